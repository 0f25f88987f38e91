"""The file that keeps a series: what goes in comes out, remarks stay, and a damaged or foreign file is one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from lookwright.errors import LookwrightError
from lookwright.solve.series.memory import (
    KeptAnchor,
    KeptEpisode,
    KeptLook,
    KeptShot,
    KeptTolerance,
    Memory,
    read_memory,
    write_memory,
)
from lookwright.solve.series.over_time import episodes, trend


def shot(name: str, stops: float = 0.0, mired: float = 0.0, state: str = "matched", left: float = 0.0) -> KeptShot:
    return KeptShot(
        name=name,
        path=f"stills/{name}.png",
        state=state,
        by="content",
        stops=stops,
        mired=mired,
        tint=0.0,
        flare=0.001,
        stops_error=0.02,
        left_stops=left,
        left_mired=0.0,
        slope=(1.0, 1.0, 1.0),
        offset=(0.01, 0.0, -0.01),
        power=(1.0, 1.0, 1.0),
        saturation=1.0,
    )


def memory(*made: KeptEpisode) -> Memory:
    return Memory(
        format=1,
        anchor=KeptAnchor(file="stills/bench.png"),
        tolerance=KeptTolerance(stops=0.1, mired=5.0),
        look=[KeptLook(file="look.toml", text='title = """of three"""\n# a \\ backslash\n[source]\n')],
        episode=list(made),
    )


def test_what_goes_in_comes_out_and_remarks_stay(tmp_path: Path) -> None:
    file = tmp_path / "series.toml"
    first = memory(KeptEpisode(name="1", look=0, shot=[shot("a", 0.2), shot("b", state="changed")]))
    write_memory(file, first)
    assert read_memory(file) == first
    file.write_text(file.read_text().replace("[tolerance]", "# agreed with the director\n[tolerance]"))
    second = first.model_copy(update={"episode": [*first.episode, KeptEpisode(name="2", look=0, shot=[shot("c")])]})
    write_memory(file, second)
    assert read_memory(file) == second
    assert "# agreed with the director" in file.read_text()
    third = second.model_copy(update={"episode": [KeptEpisode(name="1", look=0, shot=[shot("z")]), second.episode[1]]})
    write_memory(file, third)
    assert read_memory(file) == third and "# agreed with the director" in file.read_text()


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda t: t[: t.index("look.toml") + 4], "is no TOML"),
        (lambda t: "[step]\nkind = 1\n", "is no series file"),
        (lambda t: t.replace("format = 1", "format = 9"), "is of format 9"),
        (lambda t: t.replace("stops = 0.2", 'stops = "wide"'), "episode.0.shot.0.stops"),
        (lambda t: t.replace("stops = 0.2", "stops = nan"), "episode.0.shot.0.stops"),
        (lambda t: t.replace("look = 0", "look = 3"), "episode.0.look"),
        (lambda t: t.replace("mired = 5.0", "mired = -5.0"), "tolerance.mired"),
        (lambda t: t.replace("[tolerance]", "[tolerance]\nhue = 3"), "tolerance.hue"),
        (lambda t: "\x00", "is no TOML"),
    ],
)
def test_a_damaged_or_foreign_file_is_one_line(spoil, said: str, tmp_path: Path) -> None:
    file = tmp_path / "series.toml"
    write_memory(file, memory(KeptEpisode(name="1", look=0, shot=[shot("a", 0.2)])))
    file.write_text(spoil(file.read_text()))
    with pytest.raises(LookwrightError) as caught:
        read_memory(file)
    line = caught.value.line()
    assert said in line and "series.toml" in line and "\n" not in line


def test_no_file_and_binary_files_are_one_line(tmp_path: Path) -> None:
    (tmp_path / "x.toml").write_bytes(b"\xff\xfe\x00\x81")
    for name, said in (("x.toml", "not a text file"), ("none.toml", "none.toml")):
        with pytest.raises(LookwrightError) as caught:
            read_memory(tmp_path / name)
        assert said in caught.value.line()


def test_drift_over_episodes() -> None:
    kept = memory(
        *(
            KeptEpisode(
                name=str(n + 1),
                look=0,
                shot=[
                    shot("a", 0.1 * n, 3.0 * n),
                    shot("b", 0.1 * n, 3.0 * n, left=0.2),
                    shot("c", 9.0, state="unknown"),
                ],
            )
            for n in range(4)
        )
    )
    drifts = episodes(kept)
    assert [d.stops for d in drifts] == pytest.approx([0.0, 0.1, 0.2, 0.3])
    assert drifts[3].outside == ("a", "b") and drifts[0].outside == ()
    assert drifts[0].left == ("b",) and drifts[0].unknown == ("c",) and drifts[0].matched == 2
    slope = trend(drifts)
    assert slope is not None and slope.stops == pytest.approx(0.1) and slope.mired == pytest.approx(3.0)
    assert trend(drifts[:2]) is None, "two points always lie on a line"
    assert "+0.30 stop" in drifts[3].sentence()
