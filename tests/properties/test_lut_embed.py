"""A recipe comes back from its comment lines byte for byte, and tampering is noticed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lookwright.errors import LutFileError
from lookwright.lut.formats.cube import cube_text, parse_cube
from lookwright.lut.formats.embed import WIDTH, embed, extract
from lookwright.lut.lattices.lattice import Lattice, grid

# Plain text rarely has what the escapes are about; mix it in.
TRICKY = st.sampled_from(
    [
        "\\",
        "\\\\",
        "\\u0020",
        "\n",
        "\r",
        "\r\n",
        "\t",
        " ",
        " \n",
        "|",
        "| ",
        "#",
        "é",
        "\U0001f3bb",
        "\u2028",
        "\x00",
        "\x0b",
        "end of recipe, sha256 " + "0" * 64,
        "x" * 195,
        '"',
    ]
)
TEXTS = st.lists(st.one_of(TRICKY, st.text()), max_size=12).map("".join)
IDENTITY = Lattice(grid(2))


@given(TEXTS)
def test_round_trip(text):
    lines = embed(text)
    assert all(len(line) <= WIDTH and all(" " <= c <= "~" for c in line) for line in lines)
    # Blanks at the end of a line do not survive every editor and mailer; none may be needed.
    assert extract([line.rstrip(" ") for line in lines]) == text


@given(TEXTS)
def test_round_trip_through_a_cube_file(text):
    comments = ["made for the workshop", *embed(text), "another line"]
    read = parse_cube(cube_text(IDENTITY, comments=comments))
    assert read.comments == comments
    assert extract(read.comments) == text


@given(TEXTS.filter(lambda t: len(t) > 0), st.data())
def test_a_changed_character_is_noticed(text, data):
    lines = embed(text)
    number = data.draw(st.integers(1, len(lines) - 2))
    line = lines[number]
    place = data.draw(st.integers(0, len(line) - 1))
    changed = line[:place] + ("b" if line[place] == "a" else "a") + line[place + 1 :]
    try:
        found = extract([*lines[:number], changed, *lines[number + 1 :]])
    except LutFileError:
        return
    # Only a change that leaves the meaning (a digit of an escape in another case, say) may pass.
    assert found == text


def test_no_recipe_is_none():
    assert extract([]) is None
    assert extract(["a comment", "| a bar line without a beginning"]) is None


def test_a_cut_recipe_is_refused():
    with pytest.raises(LutFileError, match="cut short"):
        extract(embed("one\ntwo\n")[:-1])


def test_it_reads_as_text():
    assert embed('a = "b"\ncafé\n')[1:-1] == ['| a = "b"', "| caf\\u00e9"]
