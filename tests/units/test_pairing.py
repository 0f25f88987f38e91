"""What goes with a registered log curve: its maker's primaries by rule, and the short names people type."""

from __future__ import annotations

import pytest

from lookwright.colour.spaces.encodings import encoding
from lookwright.colour.spaces.pairing import short_names, usual_primaries
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import NameLookupError


# The pairs are those of the makers' documents, from memory; that the rule finds them in colour-science is the test.
@pytest.mark.parametrize(
    ("curve", "gamut"),
    [
        ("S-Log", "S-Gamut"),  # three sets of this maker: the one that is named as the curve is
        ("S-Log2", "S-Gamut"),  # published with the curve
        ("V-Log", "V-Gamut"),
        ("N-Log", "N-Gamut"),
        ("Log3G10", "WideGamutRGB"),
        ("Canon Log 2", "Cinema Gamut"),  # the maker's only set, registered without a curve
        ("Canon Log 3", "Cinema Gamut"),
        ("Protune", "Protune Native"),
        ("ERIMM RGB", "ERIMM RGB"),
    ],
)
def test_a_curve_has_its_makers_primaries(curve: str, gamut: str) -> None:
    assert usual_primaries(curve) == (gamut,)
    assert Signal.named(curve).primaries.name == gamut


def test_primaries_of_a_makers_displays_are_none_for_its_camera() -> None:
    """This maker's only registered set is a monitor's of 1.8; the camera's is a standard's, which our list knows."""
    assert usual_primaries("Apple Log Profile") == ()
    assert encoding("Apple Log").primaries == "BT.2020"


def test_where_the_rule_and_our_own_list_both_speak_they_agree() -> None:
    """The list says more (which of two sets is usual, and sets of a standard); it never says other."""
    from lookwright.colour.spaces.encodings import _CAMERA, CURATED

    for name, registered, *_ in _CAMERA:
        found = usual_primaries(registered)
        if len(found) == 1:
            assert found[0] in (CURATED[name].primaries, *CURATED[name].gamuts), name


@pytest.mark.parametrize(
    ("curve", "candidates"),
    [
        ("T-Log", ("FilmLight E-Gamut", "FilmLight E-Gamut 2")),
        ("REDLogFilm", ("DRAGONcolor", "DRAGONcolor2", "REDcolor", "REDcolor2", "REDcolor3", "REDcolor4")),
    ],
)
def test_of_several_one_must_be_named(curve: str, candidates: tuple[str, ...]) -> None:
    with pytest.raises(NameLookupError) as fault:
        Signal.named(curve)
    line = str(fault.value)
    assert "\n" not in line and "--source-primaries" in line and " or ".join(map(repr, candidates)) in line
    for name in candidates:
        assert Signal.named(curve, name).primaries.name == name


@pytest.mark.parametrize("curve", ["Cineon", "Panalog", "ViperLog", "Filmic Pro 6", "PLog", "Log2"])
def test_where_nothing_is_known_no_example_is_given(curve: str) -> None:
    """'ACEScg' was one: colours decoded with it are wrong by as much as the sets differ."""
    with pytest.raises(NameLookupError, match="none are published with") as fault:
        Signal.named(curve)
    assert "ACEScg" not in str(fault.value)


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("C-Log3", "Canon Log 3"),
        ("clog 2", "Canon Log 2"),
        ("CLog", "Canon Log"),
        ("Canon C-Log3", "Canon Log 3"),
        ("Sony SLog3", "S-Log3"),
        ("ARRI Log-C4", "LogC4"),
        ("slog_2", "S-Log2"),
        ("Apple Log", "Apple Log"),
        ("PLog", "PLog"),  # an exact name comes before any short one
    ],
)
def test_short_names(typed: str, name: str) -> None:
    assert encoding(typed).name == name


@pytest.mark.parametrize("typed", ["C-Log4", "X-Log3", "LogC", "D-Log M", "M-Log", "log", "3", ""])
def test_a_short_name_is_whole_or_none(typed: str) -> None:
    with pytest.raises(NameLookupError, match="unknown encoding"):
        encoding(typed)


def test_no_two_curves_share_a_short_name() -> None:
    from lookwright.colour.spaces.library import colour_library

    owner: dict[str, str] = {}
    for curve in colour_library().LOG_DECODINGS:
        for form in short_names(curve):
            assert owner.setdefault(form, curve) == curve
