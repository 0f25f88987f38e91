"""The line of a key in TOML text."""

import pytest

from lookwright.look.recipe.lines import line_of

TEXT = """title = "x"      # 1
[source]            # 2
encoding = "a"      # 3
  range = "full"    # 4

[[step]]            # 6
kind = "split"
pull = 0.3          # 8
hold.amount = 0.5   # 9

[[step]]            # 11
kind = "hues"
[[step.band]]       # 13
turn = 1
[[step.band]]       # 15
turn = 2
"width" = 20        # 17
[[step]]            # 18
kind = "split"
[step.hold]         # 20
hue = 40
[ "limits" . skin ] # 22
value = 3
"""


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("title",), 1),
        (("source",), 2),
        (("source", "encoding"), 3),
        (("source", "range"), 4),
        (("step", 0), 6),
        (("step", 0, "pull"), 8),
        (("step", 0, "hold", "amount"), 9),
        (("step", 1), 11),
        (("step", 1, "kind"), 12),
        (("step", 1, "band", 0, "turn"), 14),
        (("step", 1, "band", 1), 15),
        (("step", 1, "band", 1, "turn"), 16),
        (("step", 1, "band", 1, "width"), 17),
        (("step", 2, "hold"), 20),
        (("step", 2, "hold", "hue"), 21),
        (("limits", "skin", "value"), 23),
        # What is not there gives the line of what holds it.
        (("step", 2, "pull"), 18),
        (("step", 2, "hold", "width"), 20),
        (("source", "primaries"), 2),
        (("output",), None),
    ],
)
def test_line_of_a_key(path: tuple[str | int, ...], line: int | None) -> None:
    assert line_of(TEXT, path) == line


def test_text_that_looks_like_keys_inside_a_long_string() -> None:
    text = 'about = """\n[[step]]\nkind = "no"\n"""\n[[step]]\nkind = "exposure"\nstops = 99\n'
    assert line_of(text, ("step", 0, "stops")) == 7
    assert line_of("about = '''\n[source]\n'''\n[source]\nx = 1\n", ("source", "x")) == 5
    # A long string that ends on the line where it begins hides nothing.
    assert line_of('about = """one line"""\n[source]\nx = 1\n', ("source", "x")) == 3


def test_steps_in_one_line_give_that_line() -> None:
    assert line_of('a = 1\nstep = [{kind = "render"}, {kind = "gamut"}]\n', ("step", 1, "kind")) == 2
