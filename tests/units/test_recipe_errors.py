"""Bad recipes: one clear line for each fault, with the line of the file and what would have been right."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from lookwright.errors import LookwrightError, RecipeError, RecipeErrors
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look, read_look
from lookwright.look.recipe.write import look_text, with_changes
from lookwright.look.steps import kinds, registry, step_of_kind

HEAD = '[source]\nencoding = "ACEScct"\n[output]\nencoding = "BT.1886"\n'
"""Lines 1 to 4 of every recipe below; the step starts on line 5."""


def _faults(text: str) -> list[str]:
    with pytest.raises(LookwrightError) as caught:
        parse_look(text, "night.toml")
    lines = str(caught.value).splitlines()
    assert all(line.startswith("night.toml") for line in lines)
    if isinstance(caught.value, RecipeErrors):
        assert [f.line() for f in caught.value.faults] == lines
    return lines


def _one(text: str) -> str:
    lines = _faults(text)
    assert len(lines) == 1, lines
    return lines[0]


STEPS = [
    # (lines of the step from line 5 on, what the message must be)
    (
        'kind = "splitt"',
        "night.toml, line 6, step 1: unknown step 'splitt'; did you mean 'split'?",
    ),
    (
        'kind = "exposure"\nstop = 1.0',
        "night.toml, line 7, step 1 'exposure', stop: unknown parameter 'stop'; did you mean 'stops'?",
    ),
    (
        'kind = "exposure"\nstops = 9.5',
        "night.toml, line 7, step 1 'exposure', stops: 9.5 is out of bounds; expected -8 to 8 stops",
    ),
    (
        'kind = "balance"\nmired = 0.0\ntint = -0.5',
        "night.toml, line 8, step 1 'balance', tint: -0.5 is out of bounds; expected -0.03 to 0.03 Duv",
    ),
    (
        'kind = "exposure"\nstops = nan',
        "night.toml, line 7, step 1 'exposure', stops: nan is out of bounds; expected -8 to 8 stops",
    ),
    (
        'kind = "exposure"\nstops = -inf',
        "night.toml, line 7, step 1 'exposure', stops: -inf is out of bounds; expected -8 to 8 stops",
    ),
    (
        'kind = "exposure"\nstops = "1"',
        "night.toml, line 7, step 1 'exposure', stops: '1'; expected a number, -8 to 8 stops",
    ),
    (
        'kind = "exposure"\nstops = true',
        "night.toml, line 7, step 1 'exposure', stops: True; expected a number, -8 to 8 stops",
    ),
    (
        'kind = "cdl"\nslope = [1.0, 1.0]',
        "night.toml, line 7, step 1 'cdl', slope: [1.0, 1.0]; expected three numbers, each 0.1 to 4",
    ),
    (
        'kind = "cdl"\nslope = [1.0, 1.0, 1.0, 1.0]',
        "night.toml, line 7, step 1 'cdl', slope: [1.0, 1.0, 1.0, 1.0]; expected three numbers, each 0.1 to 4",
    ),
    (
        'kind = "cdl"\nslope = 1.1',
        "night.toml, line 7, step 1 'cdl', slope: 1.1; expected three numbers, each 0.1 to 4",
    ),
    (
        'kind = "cdl"\noffset = [0.0, 0.7, 0.0]',
        "night.toml, line 7, step 1 'cdl', offset: [0.0, 0.7, 0.0] is out of bounds; expected -0.5 to 0.5",
    ),
    (
        'kind = "split"\n[step.hold]\namout = 1',
        "night.toml, line 8, step 1 'split', hold.amout: unknown parameter 'amout'; did you mean 'amount'?",
    ),
    (
        'kind = "split"\nhold = 3',
        "night.toml, line 7, step 1 'split', hold: 3; expected a table",
    ),
    (
        'kind = "hues"\n[[step.band]]\nturn = 5\n[[step.band]]\nturn = 50',
        "night.toml, line 10, step 1 'hues', band.2.turn: 50 is out of bounds; expected -40 to 40 deg",
    ),
    (
        'kind = "hues"\nband = [{turn = 1}, {trun = 2}]',
        "night.toml, line 7, step 1 'hues', band.2.trun: unknown parameter 'trun'; did you mean 'turn'?",
    ),
    (
        'kind = "exposure"\nlock = ["stpos"]',
        "night.toml, line 7, step 1 'exposure', lock: ['stpos']; expected names of this step's own parameters",
    ),
    (
        'kind = "lut"\nfile = "a.cube"\ninput = {encoding = "ACEScct"}\noutput = {encoding = "S-Log 4"}',
        "night.toml, line 9, step 1 'lut', output.encoding: unknown encoding 'S-Log 4'; "
        "did you mean 'S-Log' or 'S-Log3' or 'S-Log2'?",
    ),
    (
        "stops = 1.0",
        "night.toml, line 5, step 1: has no 'kind'; known: balance, cdl, contrast, exposure, gamut, hues, lut, matrix, "
        "print, render, saturation, signal, split, tones",
    ),
]


@pytest.mark.parametrize(("step", "message"), STEPS, ids=[s.replace("\n", "; ") for s, _ in STEPS])
def test_fault_in_a_step(step: str, message: str) -> None:
    assert _one(f"{HEAD}[[step]]\n{step}\n") == message


@pytest.mark.parametrize("kind", ["3", "[1]", "{a = 1}", "true"])
def test_a_kind_that_is_no_name(kind: str) -> None:
    assert _one(f"{HEAD}[[step]]\nkind = {kind}\n").startswith("night.toml, line 6, step 1: unknown step ")


def test_every_kind_is_known_without_loading_a_step() -> None:
    """Hints are made of the kinds that files declare; they are those of the loaded steps, and each is found alone."""
    assert kinds() == list(registry())
    assert all(step_of_kind(kind) is step for kind, step in registry().items())
    assert step_of_kind("holds") is None, "a file of the folder that is no step"


def test_nine_bands() -> None:
    text = HEAD + '[[step]]\nkind = "hues"\n' + "[[step.band]]\nturn = 1\n" * 9
    assert _one(text).endswith("expected at most 8")


def test_a_list_of_steps_under_another_name_is_not_dropped() -> None:
    line = _one(HEAD + '[[steps]]\nkind = "render"\n')
    assert line == "night.toml, line 5, steps: unknown key 'steps'; did you mean 'step'?"


def test_step_that_is_no_list() -> None:
    line = _one("step = 3\n" + HEAD)
    assert line == "night.toml, line 1, step: not a list of steps; expected tables headed [[step]]"


@pytest.mark.parametrize("value", ["true", '"0.5"', "nan", "1.5", "-0.1"])
def test_strength(value: str) -> None:
    line = _one(f"strength = {value}\n{HEAD}")
    assert line.startswith("night.toml, line 1, strength: ") and "; expected " in line


def test_unknown_encoding_gets_near_matches() -> None:
    line = _one('[source]\nencoding = "ACESct"\n[output]\nencoding = "BT.1886"\n')
    assert line.startswith("night.toml, line 2, source.encoding: unknown encoding 'ACESct'; did you mean 'ACEScct'")


def test_unknown_primaries_and_range() -> None:
    text = '[source]\nencoding = "S-Log3"\nprimaries = "S-Gamut4"\nrange = "leagl"\n[output]\nencoding = "BT.1886"\n'
    first, second = _faults(text)
    assert first.startswith("night.toml, line 3, source.primaries: unknown primaries 'S-Gamut4'; did you mean 'S-Gamut")
    assert second == "night.toml, line 4, source.range: 'leagl'; expected 'full' or 'legal'"


@pytest.mark.parametrize("end", ["source", "output"])
def test_a_curve_without_primaries_of_its_own(end: str) -> None:
    other = {"source": "output", "output": "source"}[end]
    line = _one(f'[{end}]\nencoding = "Cineon"\n[{other}]\nencoding = "ACEScct"\n')
    begin = f"night.toml, line 1, {end}: none are published with 'Cineon'; name those it was recorded in: 'primaries'"
    assert line.startswith(begin) and "'ACEScg'" not in line


def test_missing_source_and_output() -> None:
    first, second = _faults('title = "x"\n')
    assert first == "night.toml, source: is missing; it says the signal the LUT must be fed with"
    assert second == "night.toml, output: is missing; it says the signal the LUT gives"


def test_an_encoding_in_place_of_a_table() -> None:
    assert _faults('source = "ACEScct"\n[output]\nencoding = "BT.1886"\n') == [
        "night.toml, line 1, source: 'ACEScct'; expected a table"
    ]


def test_all_faults_are_told_together_and_in_order() -> None:
    text = (
        'titel = "x"\n'
        + HEAD
        + '[[step]]\nkind = "exposure"\nstops = 20\nnoet = "x"\n[[step]]\nkind = "gamut"\nlimit = 0\n'
        + '[[step]]\nkind = "contrast"\npivto = 0.1\n[[step]]\nkind = "nothing"\n'
    )
    lines = _faults(text)
    assert [line.split(":")[0] for line in lines] == [
        "night.toml, line 8, step 1 'exposure', stops",
        "night.toml, line 9, step 1 'exposure', noet",
        "night.toml, line 12, step 2 'gamut', limit",
        "night.toml, line 15, step 3 'contrast', pivto",
        "night.toml, line 17, step 4",
        "night.toml, line 1, titel",
    ]


# --- order of steps

ORDERS = [
    (
        ["render", "exposure"],
        "step 2 'exposure': needs scene light, but step 1 'render' already made display light; move it before 'render'",
    ),
    (
        ["render", "saturation", "gamut"],
        "step 2 'saturation': needs opponent scene light, but step 1 'render' already made display light; "
        "move it before 'render'",
    ),
    (
        ["gamut", "render"],
        "step 1 'gamut': needs display light, but no step before it makes any; put 'render' or 'print' before it",
    ),
    (
        ["exposure", "cdl"],
        "output: 'BT.1886' carries display light, but no step makes any; add a step of kind 'render' or 'print' "
        "before the end",
    ),
]


@pytest.mark.parametrize(("kinds", "message"), ORDERS)
def test_impossible_order(kinds: list[str], message: str) -> None:
    text = HEAD + "".join(f'[[step]]\nkind = "{k}"\n' + ("stops = 1\n" if k == "exposure" else "") for k in kinds)
    with pytest.raises(RecipeError) as caught:
        compile_look(parse_look(text))
    assert str(caught.value) == message


def test_rendering_for_a_scene_output() -> None:
    text = HEAD.replace("BT.1886", "ACEScct") + '[[step]]\nkind = "print"\n'
    with pytest.raises(RecipeError) as caught:
        compile_look(parse_look(text))
    assert str(caught.value) == (
        "step 1 'print': makes display light, but the output 'ACEScct' carries scene light; "
        "leave the step out, or choose a display output such as 'BT.1886'"
    )


def test_a_step_that_is_off_does_not_count_in_the_order_but_keeps_its_number() -> None:
    text = HEAD + '[[step]]\nkind = "render"\non = false\n[[step]]\nkind = "render"\n[[step]]\nkind = "cdl"\n'
    with pytest.raises(RecipeError, match=r"^step 3 'cdl': needs scene light in log, but step 2 'render'"):
        compile_look(parse_look(text))


# --- files that are no recipes


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(RecipeError, match=r"none\.toml: no such file; 'lookwright new FILE' writes a look"):
        read_look(tmp_path / "none.toml")


def test_folder(tmp_path: Path) -> None:
    with pytest.raises(RecipeError, match=r"this is a folder, not a look file; name a \.toml file"):
        read_look(tmp_path)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root reads everything")
def test_unreadable_file(tmp_path: Path) -> None:
    path = tmp_path / "shut.toml"
    path.write_text(HEAD, encoding="utf-8")
    path.chmod(0)
    with pytest.raises(RecipeError, match=r"shut\.toml: Permission denied"):
        read_look(path)


@pytest.mark.parametrize("data", [b"\xff\xfe[\x00s\x00", b"\x80\x81\x82", b"\x89PNG\r\n\x1a\n\x00\x00"])
def test_not_text(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "picture.toml"
    path.write_bytes(data)
    with pytest.raises(RecipeError, match=r"picture\.toml: not a text file; expected TOML text in UTF-8"):
        read_look(path)


def test_too_large(tmp_path: Path) -> None:
    path = tmp_path / "big.toml"
    path.write_bytes(b"#" * 1_000_001)
    with pytest.raises(RecipeError, match=r"big\.toml: too large for a look file; expected at most 1 MB"):
        read_look(path)


BROKEN = {
    "syntax": ("[source\n", "not valid TOML: Expected ']' at the end of a table declaration (at line 1, column 8)"),
    "key twice": ("a = 1\na = 2\n", "not valid TOML: Cannot overwrite a value"),
    "no value": (HEAD + "[[step]]\nkind =\n", "(at line 6, column 7)"),
    "control character": ("a = \x00", "not valid TOML: Invalid value"),
    "deep array": ("a = " + "[" * 100_000, "nested too deeply"),
    "deep table": ("a = " + "{a = " * 50_000, "nested too deeply"),
    "endless integer": ("a = " + "9" * 5000, "an integer with thousands of digits"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_text_that_is_no_toml(name: str) -> None:
    text, words = BROKEN[name]
    assert words in _one(text)


@pytest.mark.parametrize("text", ["title = [{" + "a." * 3000 + "a = 1}]\n", "a." * 3000 + "a = 1\n"])
def test_endless_nesting_inside_valid_toml(text: str) -> None:
    assert len(_one(text + HEAD)) < 300


def test_a_value_of_any_length_gives_a_short_line() -> None:
    for text in (
        f'title = ["{"x" * 5000}"]\n{HEAD}',
        f'{HEAD}[[step]]\nkind = "{"x" * 5000}"\n',
        f'{HEAD}[[step]]\nkind = "exposure"\nstops = {"9" * 400}\n',
        f'[source]\nencoding = "{"x" * 5000}"\n[output]\nencoding = "sRGB"\n',
    ):
        assert len(_one(text)) < 400


def test_control_characters_do_not_reach_the_terminal() -> None:
    line = _one(HEAD + '[[step]]\nkind = "exp\\u001b[31mosure"\n')
    assert "\x1b" not in line


# --- good text


def test_byte_order_mark_and_windows_line_ends(tmp_path: Path) -> None:
    path = tmp_path / "windows.toml"
    path.write_bytes(b"\xef\xbb\xbf" + (HEAD + '[[step]]\nkind = "render"\n').replace("\n", "\r\n").encode())
    look = read_look(path)
    assert [s.kind for s in look.steps] == ["render"]
    assert look.folder == tmp_path


def test_names_are_put_in_their_registered_spelling() -> None:
    look = parse_look('[source]\nencoding = "slog3"\nprimaries = "s gamut3"\n[output]\nencoding = "rec709"\n')
    assert (look.source.encoding, look.source.primaries, look.output.encoding) == ("S-Log3", "S-Gamut3", "BT.1886")


def test_whole_numbers_are_numbers() -> None:
    look = parse_look(HEAD + '[[step]]\nkind = "exposure"\nstops = 1\n[[step]]\nkind = "render"\n')
    assert look.steps[0] == look.steps[0].model_copy(update={"stops": 1.0})


COMMENTED = """# the workshop at night
format = 2
title = "Night"   # seen on the sheet

[source]
encoding = "ACEScct"  # from the conform
[output]
encoding = "BT.1886"

# warm lamps, cool window
[[step]]
kind = "split"
pull = 0.3   # not more than 0.4: skin
cool_shadows = 0.012

# and last
[[step]]
kind = "render"
"""


def test_changes_keep_comments_and_order() -> None:
    text = with_changes(COMMENTED, {("step", 0, "pull"): 0.12345678, ("title",): "Later"})
    expected = COMMENTED.replace("pull = 0.3 ", "pull = 0.123457 ").replace('title = "Night"', 'title = "Later"')
    assert text == expected
    assert parse_look(text).steps[0].pull == 0.123457  # type: ignore[attr-defined]


def test_changes_can_add_what_was_not_there() -> None:
    text = with_changes(
        COMMENTED,
        {("step", 0, "hold", "amount"): 0.9, ("step", 1, "grey"): 40.0, ("strength",): 0.8, ("step", 0, "warm"): 55.0},
    )
    look = parse_look(text)
    split, render = look.steps
    assert look.strength == 0.8
    assert (split.hold.amount, split.warm, render.grey) == (0.9, 55.0, 40.0)  # type: ignore[attr-defined]
    for remark in ("# the workshop at night", "# seen on the sheet", "# not more than 0.4: skin", "# and last"):
        assert remark in text


def test_no_change_is_the_same_text() -> None:
    assert with_changes(COMMENTED, {}) == COMMENTED


def test_written_text_reads_back_equal_with_limits_and_strange_words() -> None:
    text = (
        'title = "say \\"when\\" \\\\ ok"\nabout = """two\nlines"""\nstrength = 0.25\n'
        + HEAD
        + '[[step]]\nkind = "hues"\nnote = "é # no comment"\n[[step.band]]\ncentre = 30\nturn = 4\n'
        + '[[step]]\nkind = "render"\non = false\nlock = ["grey"]\n[[step]]\nkind = "render"\nlock = true\n'
        + '[limits.skin_turn]\nvalue = 6.0\nreason = "asked for by the director"\n'
    )
    look = parse_look(text)
    assert parse_look(look_text(look)) == look


def test_a_lut_taken_for_a_look_is_told_apart() -> None:
    with pytest.raises(RecipeError) as caught:
        parse_look("LUT_3D_SIZE 2\n", "warm.CUBE")
    assert caught.value.hint == "this is a LUT: 'recover' takes the look out of one that lookwright wrote"
