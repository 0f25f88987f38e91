"""The format number of a look file: old keys are read, told by their own names and lines, and written anew."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from lookwright.errors import RecipeError, RecipeErrors
from lookwright.look.recipe.formats import FORMAT, RENAMED, current_text
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.read import parse_look
from lookwright.look.recipe.schema import look_schema
from lookwright.look.recipe.write import look_text, with_changes
from lookwright.look.steps import registry
from lookwright.look.steps.hues import Hues
from lookwright.look.steps.params import Declared

OLD = """\
# the workshop in the afternoon
title = "Varnish"      # colourfulness = is said here too

[source]
encoding = "ACEScct"
[output]
encoding = "BT.1886"

[[step]]
kind = "hues"
note = "colourfulness = 0.5 was too little"
lock = ["band.colourfulness", "band.2.turn"]

  [[step.band]]        # wood
  centre = 60.0
  colourfulness = 0.9  # not less: the ribs go grey

  [[step.band]]
  "colourfulness" = 1.1

[[step]]
kind = "render"
[[step]]
kind = "gamut"
"""


def hues(look: Look) -> Hues:
    step = look.steps[0]
    assert isinstance(step, Hues)
    return step


def test_old_keys_are_read_and_the_look_is_of_the_present_format() -> None:
    step = hues(parse_look(OLD))
    assert [b.saturation for b in step.band] == [0.9, 1.1]
    assert step.lock == ("band.saturation", "band.2.turn")
    assert step.note == "colourfulness = 0.5 was too little"
    assert parse_look(OLD).format == FORMAT == 2
    assert parse_look(OLD.replace("title", "format = 1\ntitle", 1)) == parse_look(OLD)


def test_faults_of_an_old_file_name_its_own_keys_and_lines() -> None:
    bad = OLD.replace("colourfulness = 0.9", "colourfulness = 9.0").replace("1.1", '"much"')
    with pytest.raises(RecipeErrors) as caught:
        parse_look(bad, "a.toml")
    assert [f.line() for f in caught.value.faults] == [
        "a.toml, line 16, step 1 'hues', band.1.colourfulness: 9.0 is out of bounds; expected 0 to 2",
        "a.toml, line 19, step 1 'hues', band.2.colourfulness: 'much'; expected a number, 0 to 2",
    ]


def test_an_old_key_in_a_new_file_is_told_its_new_name() -> None:
    with pytest.raises(RecipeErrors) as caught:
        parse_look(f"format = {FORMAT}\n" + OLD, "a.toml")
    assert "unknown parameter 'colourfulness'; called 'saturation' since format 2" in caught.value.line()


def test_both_names_at_once_are_a_fault_not_a_guess() -> None:
    both = OLD.replace("  colourfulness = 0.9", "  saturation = 0.8\n  colourfulness = 0.9")
    with pytest.raises(RecipeErrors, match="unknown parameter 'colourfulness'; called 'saturation'"):
        parse_look(both)


@pytest.mark.parametrize("number", ["3", "9999", "123456789012345678901234567890"])
def test_a_newer_format_is_one_clear_fault(number: str) -> None:
    """Whatever else is unknown in it."""
    text = OLD.replace("title", f"format = {number}\nsparkle = 3\ntitle", 1)
    with pytest.raises(RecipeError) as caught:
        parse_look(text, "a.toml")
    assert not isinstance(caught.value, RecipeErrors)
    assert caught.value.line() == (
        f"a.toml, line 2, format: made by a newer lookwright (format {number[:20]}); expected format 2 or earlier; "
        "read it with that version or a later one"
    )
    with pytest.raises(RecipeError, match="made by a newer lookwright"):
        with_changes(text, {("strength",): 0.5})


@pytest.mark.parametrize("value", ["0", "-1", "2.0", '"2"', "true", "[2]", "{ a = 2 }"])
def test_what_is_no_format(value: str) -> None:
    with pytest.raises(RecipeError, match=r"line 2, format: .*; expected a whole number, at most 2"):
        parse_look(OLD.replace("title", f"format = {value}\ntitle", 1))


def test_written_anew_only_what_must_change_is_changed() -> None:
    expected = (
        OLD.replace("title", "format = 2\ntitle", 1)
        .replace('["band.colourfulness"', '["band.saturation"')
        .replace("  colourfulness = 0.9", "  saturation = 0.9")
        .replace('"colourfulness" = 1.1', '"saturation" = 1.1')
    )
    assert current_text(OLD) == expected
    assert current_text(expected) == expected
    assert parse_look(expected) == parse_look(OLD)


def test_changes_to_an_old_file_bring_it_to_the_present_format() -> None:
    text = with_changes(OLD, {("step", 0, "band", 0, "saturation"): 0.95})
    assert text == current_text(OLD).replace("0.9  #", "0.95  #")
    assert [b.saturation for b in hues(parse_look(text)).band] == [0.95, 1.1]


@pytest.mark.parametrize(
    ("text", "begins"),
    [
        ("# camera\n[source]\n", "format = 2\n\n# camera\n[source]\n"),
        ("# night\n\ntitle = 'x'\n[source]\n", "# night\n\nformat = 2\ntitle = 'x'\n[source]\n"),
        ("format   = 1 # old\n[source]\n", "format   = 2 # old\n[source]\n"),
        ("", "format = 2\n\n"),
    ],
)
def test_where_the_number_goes(text: str, begins: str) -> None:
    assert current_text(text) == begins


def test_layouts_that_words_cannot_tell_apart_lose_remarks_not_meaning() -> None:
    inline = 'step = [ { kind = "hues", band = [ { colourfulness = 0.5 } ] }, { kind = "lut", x.colourfulness = 1 } ]\n'
    text = "# gone\n" + inline
    assert tomllib.loads(current_text(text)) == {
        "format": 2,
        "step": [{"kind": "hues", "band": [{"saturation": 0.5}]}, {"kind": "lut", "x": {"colourfulness": 1}}],
    }
    plain = inline.replace(", x.colourfulness = 1", "")
    assert current_text("# kept\n" + plain) == "# kept\nformat = 2\n" + plain.replace("colourfulness", "saturation")


def test_new_text_says_its_format() -> None:
    assert look_text(parse_look(OLD)).startswith("format = 2\n")


def test_the_schema_is_that_of_the_present_format() -> None:
    schema = look_schema()
    assert schema["properties"]["format"]["const"] == FORMAT and "format" in schema["required"]


def test_every_row_of_the_table_leads_to_a_parameter_that_exists() -> None:
    for row in RENAMED:
        assert 1 < row.since <= FORMAT
        owner: type[Declared] = registry()[row.kind]
        for name in row.tables:
            field = owner.model_fields[name]
            owner = next(
                t for t in (field.annotation, *getattr(field.annotation, "__args__", ())) if hasattr(t, "model_fields")
            )
        assert row.new in owner.model_fields and row.old not in owner.model_fields


def test_the_shipped_looks_are_of_the_present_format() -> None:
    looks = sorted((Path(__file__).parents[2] / "looks").glob("*.toml"))
    assert len(looks) >= 3
    for path in looks:
        assert tomllib.loads(path.read_text(encoding="utf-8"))["format"] == FORMAT, path
