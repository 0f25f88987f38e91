"""Hostile files for every reader, the same ones every time.

    python tests/faults/generate.py FOLDER     # writes them all, prints how many for each reader

They are made of small whole files: what every reader must stand (nothing, cuts, other kinds of content, pipes,
devices, links, awkward names) and what only its own format can hold (false sizes, loops, nesting, bombs, NaN).
"""

# ruff: noqa: E501 (a case a line reads better)

from __future__ import annotations

import os
import random
import socket
import struct
import sys
import zlib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from sound import CLF, CLF_HEAD, CLF_TAIL, MARKS, RECIPE, sound_files

SUFFIX = {"recipe": "toml", "marks": "toml", "hald": "png"}
TEXT = ("recipe", "marks", "cube", "clf", "cc", "ccc", "cdl")
MIB = 1 << 20


class Hostile(NamedTuple):
    reader: str
    path: Path
    what: str
    """What is wrong with it: also the test's words for it."""


def hostile_files(folder: Path, only: str = "") -> list[Hostile]:
    """Write the hostile files of one reader, or of all, under ``folder`` (each reader has its own there)."""
    (folder / "sound").mkdir(parents=True)
    sound = sound_files(folder / "sound")
    found: list[Hostile] = []
    contents = {reader: paths[0].read_bytes() for reader, paths in sound.items()}
    for reader, paths in sound.items():
        if only not in ("", reader):
            continue
        home = folder / reader
        home.mkdir()
        suffix = SUFFIX.get(reader, reader)
        cases = [*_everywhere(reader, contents), *_own(reader, paths)]
        for number, (what, data) in enumerate(cases):
            path = home / f"{number:03d}.{suffix}"
            path.write_bytes(data)
            found.append(Hostile(reader, path, what))
        found += [Hostile(reader, path, what) for what, path in _places(home, suffix, contents[reader])]
    return found


Cases = Iterator[tuple[str, bytes]]


def _everywhere(reader: str, contents: dict[str, bytes]) -> Cases:
    data = contents[reader]
    yield "empty", b""
    yield "one byte", data[:1]
    yield "blanks", b" \n\t" * 50
    yield "null bytes", bytes(4096)
    yield "0xff bytes", b"\xff" * 4096
    yield "every byte value", bytes(range(256)) * 16
    yield "a long line", b"a" * (2 * MIB)
    yield "a long line of digits", b"1" * (MIB // 2)
    yield "UTF-16", "\ufeffLUT_3D_SIZE 2".encode("utf-16")
    for part in range(1, 12):
        yield f"cut at {part}/12", data[: len(data) * part // 12]
    yield "without its last byte", data[:-1]
    yield "without its first byte", data[1:]
    yield "twice", data * 2
    yield "rubbish after it", data + os.fsencode("\x00\x01rubbish") * 20
    yield "null bytes in the middle", data[: len(data) // 2] + bytes(64) + data[len(data) // 2 :]
    for other, content in contents.items():
        if SUFFIX.get(other, other) != SUFFIX.get(reader, reader):
            yield f"holds {other}", content
    for magic in (b"GIF89a", b"BM", b"\x1f\x8b\x08\x00", b"PK\x03\x04", b"%PDF-1.7\n", b"\x7fELF", b"#!/bin/sh\n"):
        yield f"begins as {magic!r}", magic + data[len(magic) :]


def _places(home: Path, suffix: str, data: bytes) -> Iterator[tuple[str, Path]]:
    """Names that lead to no ordinary file, and ordinary files of awkward names."""

    def at(name: str) -> Path:
        return home / f"{name}.{suffix}"

    yield "no such file", at("none")
    yield "a null character in the name", at("nu\0ll")
    yield "a name that is too long", at("n" * 300)
    yield "a path that is too long", home / Path(*["deep" * 20] * 60) / f"a.{suffix}"
    at("folder").mkdir()
    yield "a folder", at("folder")
    os.mkfifo(at("pipe"))
    yield "a pipe that nothing is written to", at("pipe")
    for name, target in {
        "zero": "/dev/zero",
        "full": "/dev/full",
        "nothing": "/dev/null",
        "random": "/dev/urandom",
        "terminal": "/dev/tty",
        "process": "/proc/version",
        "memory": "/proc/self/mem",
        "pipelink": f"pipe.{suffix}",
        "nowhere": "nowhere",
        "loop": f"loop.{suffix}",
        "self": ".",
    }.items():
        os.symlink(target, at(name))
        yield f"a link to {target}", at(name)
    os.symlink(f"there.{suffix}", at("back"))
    os.symlink(f"back.{suffix}", at("there"))
    yield "two links in a circle", at("there")
    old = os.getcwd()
    os.chdir(home)  # the name of a socket may have no more than some hundred bytes
    try:
        with socket.socket(socket.AF_UNIX) as made:
            made.bind(f"socket.{suffix}")
    finally:
        os.chdir(old)
    yield "a socket", at("socket")
    with open(at("sparse"), "wb") as file:
        file.write(data)
        file.truncate(300 * MIB)
    yield "300 MB, mostly a hole", at("sparse")
    for what, name in {
        "accents": "Gitarre-für-José-ñandú",
        "another script": "工房の灯り-мастерская-ورشة",
        "emoji": "🎻🪵",
        "combining": "e\u0301" * 20,
        "right to left": "a\u202eb\u200fc",
        "line ends": "a\nb\r\nc",
        "escapes": "a\x1b[31mb\x07",
        "quotes": "a'b\"c`d$e",
        "blanks": "  a  b  ",
        "the longest": "n" * 250,
        "percent": "%s%n%d%08x",
        "braces": "{0.__class__}{",
        "dashes": "--out",
        "hash": "#1.#####",
    }.items():
        path = at(name)
        path.write_bytes(data)
        yield f"whole, its name has {what}", path
    raw = Path(os.fsdecode(os.fsencode(home) + b"/by\xff\xfete." + suffix.encode()))
    raw.write_bytes(data)
    yield "whole, its name is not UTF-8", raw


def _own(reader: str, paths: list[Path]) -> Cases:
    makers = {
        "recipe": _recipe,
        "marks": _marks,
        "cube": _cube,
        "clf": _clf,
        "cc": _cdl,
        "ccc": _cdl,
        "cdl": _cdl,
        "png": _png,
        "hald": _hald,
        "jpg": _jpg,
        "webp": _webp,
        "tif": _tif,
        "exr": _exr,
        "dpx": _dpx,
        "mp4": _mp4,
    }
    whole = [p.read_bytes() for p in paths]
    yield from makers[reader](whole)
    if reader not in TEXT:
        yield from _words(whole[0], ">" if reader in ("png", "hald", "jpg", "dpx", "mp4") else "<")


def _words(data: bytes, order: str) -> Cases:
    """Every 4-byte word of the head in turn overwritten by sizes that cannot be."""
    for at in range(4, 4 + 4 * 40, 4):
        for value in (0, 0x7FFFFFFF, 0xFFFFFFFF, 0x00010000):
            yield f"word at {at} is {value:#x}", data[:at] + struct.pack(order + "I", value) + data[at + 4 :]


# ---------------------------------------------------------------- text


def _toml() -> Cases:
    """What any TOML reader must stand."""
    yield "a byte-order mark twice", b"\xef\xbb\xbf" * 2
    yield "not UTF-8", b'title = "caf\xe9"'
    yield "a lone surrogate", b'title = "\\ud800"'
    yield "a surrogate in UTF-8", b'title = "\xed\xa0\x80"'
    yield "a key twice", b"a = 1\na = 2"
    yield "arrays nested 100000 deep", b"a = " + b"[" * 100_000
    yield "arrays nested 100000 deep and closed", b"a = " + b"[" * 100_000 + b"]" * 100_000
    yield "arrays nested 400 deep", b"a = " + b"[" * 400 + b"]" * 400
    yield "inline tables nested 50000 deep", b"a = " + b"{a=" * 50_000
    yield "inline tables nested 300 deep", b"a = " + b"{a=" * 300 + b"1" + b"}" * 300
    yield "a key of 20000 parts", b"a" + b".a" * 20_000 + b" = 1"
    yield "a table of 20000 parts", b"[a" + b".a" * 20_000 + b"]"
    yield "tables that go deeper", b"".join(b"[a" + b".a" * n + b"]\n" for n in range(500))
    yield "an integer of 10000 digits", b"a = " + b"9" * 10_000
    yield "a hexadecimal integer of 100000 digits", b"a = 0x" + b"f" * 100_000
    yield "a float of 100000 digits", b"a = 0." + b"1" * 100_000
    yield "1e999999999", b"a = 1e999999999"
    yield "a date", b"title = 1979-05-27T07:32:00Z"
    yield "a date that is none", b"title = 9999-99-99"
    yield "a text of 900 KB", b'title = "' + b"x" * 900_000 + b'"'
    yield "an open text of 900 KB", b'title = """' + b"\n" * 900_000
    yield "quotes without end", b'"' * 900_001
    yield "a key of 900 KB", b"k" * 900_000 + b" = 1"
    yield "50000 unknown keys", b"".join(b"key%d = 1\n" % n for n in range(50_000))
    yield "20000 unknown tables", b"".join(b"[key%d]\n" % n for n in range(20_000))
    yield "20000 unknown arrays of tables", b"".join(b"[[key%d]]\n" % n for n in range(20_000))
    yield "900 KB of comment", b"#" + b"c" * 900_000
    yield "450000 empty comments", b"#\n" * 450_000
    yield "control characters", b'title = "\\u0007\\u001b[31m"\n\x07'
    yield "an empty key", b'"" = 1'
    yield "a key with line ends", b'"a\\nb\\r\\u2028" = 1'


def _recipe(whole: list[bytes]) -> Cases:
    yield from _toml()
    head, _, _ = RECIPE.partition("[[step]]")
    values = (
        "nan",
        "-nan",
        "inf",
        "-inf",
        "1e308",
        "-1e308",
        "1e400",
        "9" * 400,
        "true",
        '"nan"',
        "[]",
        "{}",
        "[nan, 1]",
        "1979-05-27",
        "[[[]]]",
        "''",
        '"\\u001b[31m"',
        "{a = {a = {}}}",
        "-0.0",
        "0x10",
        "5e-324",
    )
    for value in values:
        yield f"a parameter of {value[:20]}", RECIPE.replace("stops = 0.2", f"stops = {value}").encode()
        yield f"a kind of {value[:20]}", RECIPE.replace('"exposure"', value).encode()
        yield f"a title of {value[:20]}", RECIPE.replace('"Bench by the window"', value).encode()
        yield f"an encoding of {value[:20]}", RECIPE.replace('"ACEScct"', value).encode()
        yield f"a strength of {value[:20]}", f"strength = {value}\n{RECIPE}".encode()
    yield "step is a table", (head + "[step]\nkind='exposure'").encode()
    yield "step is a number", ("step = 1\n" + head).encode()
    yield "step is a list of lists", ("step = [[[]]]\n" + head).encode()
    yield "a name for the list of its own", ("steps = []\n" + RECIPE).encode()
    yield "20000 steps without kind", (head + "[[step]]\n" * 20_000).encode()
    yield "20000 unknown steps", (head + '[[step]]\nkind = "exposur"\n' * 20_000).encode()
    yield "5000 wrong parameters", (head + '[[step]]\nkind = "exposure"\nstops = nan\n' * 5_000).encode()
    yield (
        "5000 unknown parameters",
        (RECIPE.replace("stops = 0.2", "".join(f"stop{n} = 1\n" for n in range(5_000))).encode()),
    )
    yield "20000 good steps", (head + '[[step]]\nkind = "exposure"\nstops = 0.0\n' * 20_000).encode()
    yield "an unknown step of 900 KB", (head + f'[[step]]\nkind = "{"k" * 900_000}"').encode()
    yield "an unknown parameter of 900 KB", (head + f'[[step]]\nkind = "exposure"\n{"k" * 900_000} = 1').encode()
    yield "an encoding of 900 KB", RECIPE.replace("ACEScct", "A" * 900_000).encode()
    for name in ("/dev/zero", "../../../../etc/passwd", "", ".", "a\\u0000b.cube", "x" * 5000, "http://a/b.cube"):
        step = f'[[step]]\nkind = "lut"\nfile = "{name}"\n'
        yield f"a LUT called {name[:20]}", (RECIPE + step).encode()


def _marks(whole: list[bytes]) -> Cases:
    yield from _toml()
    for value in ("nan", "inf", "-1", "1e308", "1e400", "9" * 400, "9" * 5000, "true", '"0.1"', "[]", "{}", "0", "2"):
        for place in range(4):
            box = ["0.1", "0.1", "0.2", "0.2"]
            box[place] = value
            yield f"number {place + 1} of a box is {value[:12]}", f'[a."b"]\nbox = [{", ".join(box)}]'.encode()
        yield f"a level of {value[:12]}", MARKS.replace("40.0", value).encode()
        yield f"a role of {value[:12]}", MARKS.replace('"neutral"', value).encode()
    for box in (
        "[]",
        "[1]",
        "[0.1, 0.1, 0.2]",
        "[" + "0.1," * 100_000 + "]",
        "0.1",
        '"0.1,0.1,0.2,0.2"',
        "[[0, 0, 1, 1]]",
    ):
        yield f"a box of {box[:20]}", f'[a."b"]\nbox = {box}'.encode()
    yield "a mark of a list", b"[a]\nb = [1, 2]"
    yield "10000 marks", b"".join(b'[a."b%d"]\nbox = [0.1, 0.1, 0.2, 0.2]\n' % n for n in range(10_000))


def _cube(whole: list[bytes]) -> Cases:
    rows = b"0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 0 1\n1 0 1\n0 1 1\n1 1 1\n"
    for size in (
        b"0",
        b"1",
        b"-2",
        b"2.0",
        b"130",
        b"65536",
        b"999999999",
        b"1e3",
        b"nan",
        b"9" * 100_000,
        b"2_0",
        b"\xd9\xa2",
    ):
        yield f"LUT_3D_SIZE {size[:12]!r}", b"LUT_3D_SIZE " + size + b"\n" + rows
        yield f"LUT_1D_SIZE {size[:12]!r}", b"LUT_1D_SIZE " + size + b"\n" + rows
    for value in (
        b"nan",
        b"inf",
        b"-inf",
        b"1e39",
        b"-1e400",
        b"1_0",
        b"0x1p3",
        b"1,0",
        b"--1",
        b"1e",
        b".",
        b"+",
        b"1" * 5000,
        b"0." + b"1" * 100_000,
        b"\xd9\xa2",
        b"\xff",
        b"NaN(1)",
        b"1.#QNAN",
        b"1e-400",
        b"infinity",
    ):
        yield f"a value of {value[:12]!r}", b"LUT_3D_SIZE 2\n" + rows.replace(b"1 1 1", value + b" 1 1")
        yield f"a domain of {value[:12]!r}", b"DOMAIN_MIN " + value + b" 0 0\nLUT_3D_SIZE 2\n" + rows
    yield "129 points and no rows", b"LUT_3D_SIZE 129\n"
    yield "65536 points and a row", b"LUT_1D_SIZE 65536\n0 0 0\n"
    yield "a million comments", b"#\n" * 1_000_000 + b"LUT_3D_SIZE 2\n" + rows
    yield "a million comments among the rows", b"LUT_3D_SIZE 2\n" + rows[:12] + b"#\n" * 1_000_000 + rows[12:]
    yield "a million titles after the rows", b"LUT_3D_SIZE 2\n" + rows + b"TITLE x\n" * 500_000
    yield "a million lower-case titles", b"title x\n" * 500_000 + b"LUT_3D_SIZE 2\n" + rows
    yield "a million rows too many", b"LUT_3D_SIZE 2\n" + rows * 120_000
    yield "one row of a million numbers", b"LUT_3D_SIZE 2\n" + b"0 " * 1_000_000
    yield "a million unknown keywords", b"KEYWORD\n" * 500_000
    yield "an empty domain", b"DOMAIN_MIN 0 0 0\nDOMAIN_MAX 0 0 0\nLUT_3D_SIZE 2\n" + rows
    yield "a domain too small to divide by", b"DOMAIN_MIN 0 0 0\nDOMAIN_MAX 5e-324 1 1\nLUT_3D_SIZE 2\n" + rows
    yield "a domain from end to end", b"DOMAIN_MIN -3e38 0 0\nDOMAIN_MAX 3e38 1 1\nLUT_3D_SIZE 2\n" + rows
    yield "values from end to end", b"LUT_3D_SIZE 2\n" + rows.replace(b"1", b"3e38").replace(b"0", b"-3e38", 1)
    yield "old line ends", b"LUT_3D_SIZE 2\r" + rows.replace(b"\n", b"\r")
    yield "form feeds", b"LUT_3D_SIZE 2\f" + rows.replace(b"\n", b"\v")
    yield "control characters in a title", b'TITLE "\x1b[31m\x07"\nLUT_3D_SIZE 2\n' + rows
    yield "control characters in a keyword", b"\x1b[31m\x07\nLUT_3D_SIZE 2\n" + rows
    yield "a recipe that is none", b"# lookwright recipe 1\n# AAAA\nLUT_3D_SIZE 2\n" + rows


def _xml(root: str, sound: str) -> Cases:
    """What any XML reader must stand; ``root`` is the element's name."""
    laughs = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 12))
    yield "a million laughs", f'<!DOCTYPE a [<!ENTITY l0 "ha">{laughs}]><{root}>&l11;</{root}>'.encode()
    blow = f'<!DOCTYPE a [<!ENTITY l "{"x" * 100_000}">]><{root}>{"&l;" * 10_000}</{root}>'
    yield "one long entity ten thousand times", blow.encode()
    yield "an entity of a file", f'<!DOCTYPE a [<!ENTITY x SYSTEM "file:///dev/zero">]><{root}>&x;</{root}>'.encode()
    yield "a DOCTYPE elsewhere", f'<!DOCTYPE a SYSTEM "http://127.0.0.1:9/a.dtd"><{root}/>'.encode()
    yield "a parameter entity", f'<!DOCTYPE a [<!ENTITY % x SYSTEM "/dev/zero">%x;]><{root}/>'.encode()
    yield "nested 17 deep", (f"<{root}>" + "<a>" * 16 + "</a>" * 16 + f"</{root}>").encode()
    yield "nested 200000 deep", b"<a>" * 200_000
    yield "200000 elements", (f"<{root}>" + "<a/>" * 200_000 + f"</{root}>").encode()
    yield "100000 attributes", (f"<{root} " + " ".join(f'a{n}="1"' for n in range(100_000)) + "/>").encode()
    yield "an attribute of 5 MB", f'<{root} id="{"x" * 5_000_000}"/>'.encode()
    yield "a name of 5 MB", f"<{'n' * 5_000_000}/>".encode()
    yield "a text of 5 MB", f"<{root}>{'x' * 5_000_000}</{root}>".encode()
    yield "a comment of 5 MB", f"<!--{'x' * 5_000_000}--><{root}/>".encode()
    yield "an open comment", f"<{root}><!--{'-' * 1_000_000}".encode()
    yield "100000 processing instructions", b"<?a b?>" * 100_000 + f"<{root}/>".encode()
    yield "100000 name spaces", (f"<{root} " + " ".join(f'xmlns:a{n}="{n}"' for n in range(100_000)) + "/>").encode()
    yield "an attribute twice", f'<{root} id="a" id="b"/>'.encode()
    yield "a prefix of no name space", f"<a:{root}/>".encode()
    yield "a null character", f"<{root}>&#0;</{root}>".encode()
    yield "an unknown entity", f"<{root}>&what;</{root}>".encode()
    for name in (
        "utf-7",
        "utf-32",
        "ebcdic-cp-us",
        "cp037",
        "idna",
        "base64",
        "rot13",
        "zlib",
        "x" * 5000,
        "unicode_escape",
    ):
        text = sound.replace('encoding="UTF-8"', f'encoding="{name}"')
        yield f"encoding {name[:20]}", text.encode()
    yield "UTF-16 without saying so", sound.encode("utf-16-le")
    yield "UTF-16", sound.replace("UTF-8", "UTF-16").encode("utf-16")
    yield "UTF-16 that says UTF-8", sound.encode("utf-16")
    yield "UTF-32", sound.encode("utf-32")
    yield "two roots", f"<{root}/><{root}/>".encode()
    yield "only a declaration", b'<?xml version="1.0"?>'
    yield "version 1.1", sound.replace('version="1.0"', 'version="1.1"').encode()
    yield "standalone", sound.replace('encoding="UTF-8"', 'encoding="UTF-8" standalone="no"').encode()


BAD_NUMBERS = (
    "nan",
    "inf",
    "-inf",
    "1e39",
    "-1e39",
    "1e400",
    "1e-400",
    "1_0",
    "0x10",
    "1,5",
    "",
    "one",
    "9" * 5000,
    "１",
)


def _clf(whole: list[bytes]) -> Cases:
    yield from _xml("ProcessList", CLF)
    depths = 'inBitDepth="32f" outBitDepth="32f"'

    def of(*nodes: str) -> bytes:
        return (CLF_HEAD + "".join(nodes) + CLF_TAIL).encode()

    for number in BAD_NUMBERS:
        shown = number[:12] or "nothing"
        yield f"a range from {shown}", CLF.replace("<minInValue>0.1", f"<minInValue>{number}").encode()
        yield f"a curve of {shown}", CLF.replace("0 0.4 1", f"0 {number} 1").encode()
        yield f"a lattice of {shown}", CLF.replace("1 1 1\n", f"1 {number} 1\n").encode()
        matrix = f'<Matrix {depths}><Array dim="3 3">1 0 0 0 {number} 0 0 0 1</Array></Matrix>'
        yield f"a matrix of {shown}", of(matrix)
        power = f'<Exponent {depths} style="basicFwd"><ExponentParams exponent="{number}"/></Exponent>'
        yield f"an exponent of {shown}", of(power)
        yield f"a base of {shown}", of(f'<Log {depths} style="linToLog"><LogParams base="{number}"/></Log>')
        slope = f"<ASC_CDL {depths}><SOPNode><Slope>{number} 1 1</Slope><Offset>0 0 0</Offset><Power>1 1 1</Power></SOPNode></ASC_CDL>"
        yield f"a slope of {shown}", of(slope)
    for dim in (
        "2 2 2",
        "2 2 2 2",
        "2 2 3 3",
        "0 0 0 3",
        "-2 -2 -2 3",
        "129 129 129 3",
        "999999 999999 999999 3",
        "x",
        "",
        "2.0 2.0 2.0 3",
        "２ ２ ２ 3",
        "9" * 5000,
        "2 " * 100_000,
    ):
        yield f"a lattice of dim {dim[:20]}", CLF.replace('dim="2 2 2 3"', f'dim="{dim}"').encode()
    for dim in ("1 1", "0 1", "65536 1", "99999999 1", "3 2", "3 4", "-1 1"):
        yield f"a curve of dim {dim}", CLF.replace('dim="3 1"', f'dim="{dim}"').encode()
    for word in ("64f", "8i", "", "32F", "9" * 5000):
        yield f"a depth of {word[:20]}", CLF.replace('outBitDepth="32f"', f'outBitDepth="{word}"', 1).encode()
    for version in ("", "0", "4", "nan", "3.0.0.0.0", "9" * 5000, "-3"):
        yield f"version {version[:20]}", CLF.replace('compCLFversion="3.0"', f'compCLFversion="{version}"').encode()
    for style in ("basicRev", "basicMirrorRev", "monCurveFwd", "monCurveRev", "what"):
        for value in ("0", "1e-30", "100", "-1"):
            node = f'<Exponent {depths} style="{style}"><ExponentParams exponent="{value}" offset="0.05"/></Exponent>'
            yield f"{style} with exponent {value}", of(node)
    for style in ("log2", "antiLog2", "antiLog10", "logToLin", "linToLog", "cameraLinToLog", "what"):
        for base in ("0", "1", "-2", "1e-30"):
            yield f"{style} with base {base}", of(f'<Log {depths} style="{style}"><LogParams base="{base}"/></Log>')
    yield "1000 nodes", of(*[f"<Log {depths} style='log10'/>"] * 1000)
    yield "antilogarithms of antilogarithms", of(*[f"<Log {depths} style='antiLog10'/>"] * 5)
    yield "an array in an array", CLF.replace("0 0.4 1", '0 <Array dim="3 1">0 1 2</Array> 0.4 1').encode()
    yield "a reference to a file", of('<Reference path="/dev/zero"/>')
    yield "half domain with three entries", CLF.replace("<LUT1D ", '<LUT1D halfDomain="true" ').encode()
    yield "raw halves", CLF.replace("<LUT1D ", '<LUT1D rawHalfs="true" ').encode()
    yield "an index map", CLF.replace("<Array dim", '<IndexMap dim="2">0@0 1@9</IndexMap><Array dim', 1).encode()
    yield "a range without numbers", of(f"<Range {depths}></Range>")
    yield "a range turned round", CLF.replace(">0.9<", ">0.05<").encode()
    yield "a million numbers too many", CLF.replace("0 0.4 1", "0 " * 1_000_000).encode()


def _cdl(whole: list[bytes]) -> Cases:
    sound = whole[0].decode()
    root = sound.split("<")[2].split()[0]
    yield from _xml(root, sound)
    for number in BAD_NUMBERS:
        for word in ("1.1 1 0.9", "0.01 0 -0.01", "1 1.05 1.1", ">0.9<"):
            wrong = f">{number}<" if word[0] == ">" else f"1 {number} 1"
            yield f"{number[:12] or 'nothing'} for {word}", sound.replace(word, wrong).encode()
    for power in ("0", "-1", "1e-30", "1e30"):
        yield f"a power of {power}", sound.replace("1 1.05 1.1", f"{power} 1 1").encode()
    for slope in ("-1", "1e38", "0"):
        yield f"a slope of {slope}", sound.replace("1.1 1 0.9", f"{slope} 1 1").encode()
    for saturation in ("-1", "1e38"):
        yield f"a saturation of {saturation}", sound.replace(">0.9<", f">{saturation}<").encode()
    yield "numbers of a million", sound.replace("1.1 1 0.9", "1 " * 1_000_000).encode()
    yield "Slope twice", sound.replace("<Slope>", "<Slope>1 1 1</Slope><Slope>").encode()
    yield "no Power", sound.replace("Power>", "Powr>").encode()
    yield "a node of its own", sound.replace("<SOPNode>", "<What/><SOPNode>").encode()
    yield "no correction", f"<{root}/>".encode()
    one = '<ColorCorrection id="a"/>'
    many = {
        "ColorCorrection": one,
        "ColorCorrectionCollection": one * 30_000,
        "ColorDecisionList": f"<ColorDecision>{one}</ColorDecision>" * 30_000,
    }[root]
    yield "tens of thousands of corrections", f"<{root} id='b'>{many}</{root}>".encode()
    yield "a reference", f"<{root}><ColorDecision><ColorCorrectionRef ref='a'/></ColorDecision></{root}>".encode()


# ---------------------------------------------------------------- pictures


def _chunk(name: bytes, data: bytes, length: int | None = None, crc: int | None = None) -> bytes:
    """A PNG chunk (PNG specification, 5.3)."""
    found = zlib.crc32(name + data) if crc is None else crc
    return struct.pack(">I", len(data) if length is None else length) + name + data + struct.pack(">I", found)


def _png_of(
    width: int, height: int, depth: int, colour: int, rows: bytes, *between: bytes, interlace: int = 0
) -> bytes:
    header = struct.pack(">IIBBBBB", width & 0xFFFFFFFF, height & 0xFFFFFFFF, depth, colour, 0, 0, interlace)
    return b"".join(
        [b"\x89PNG\r\n\x1a\n", _chunk(b"IHDR", header), *between, _chunk(b"IDAT", rows), _chunk(b"IEND", b"")]
    )


def _png(whole: list[bytes]) -> Cases:
    row = zlib.compress(bytes(200))
    for side in (
        (0, 0),
        (0, 1),
        (1, 0),
        (-1, -1),
        (0x7FFFFFFF, 0x7FFFFFFF),
        (0x7FFFFFFF, 1),
        (1, 0x7FFFFFFF),
        (1_000_000, 1_000_000),
        (1_000_000, 200),
        (14_000, 14_000),
        (20_000, 10_000),
    ):
        for depth, colour in ((8, 2), (16, 6), (1, 0)):
            yield f"says {side[0]} x {side[1]}, {depth} bits, kind {colour}", _png_of(*side, depth, colour, row)
    for depth in (0, 3, 32, 255):
        yield f"{depth} bits", _png_of(4, 4, depth, 2, row)
    for colour in (1, 5, 7, 255):
        yield f"colour kind {colour}", _png_of(4, 4, 8, colour, row)
    yield "a palette picture without palette", _png_of(4, 4, 8, 3, row)
    yield (
        "a palette of 3 and indexes of 255",
        _png_of(4, 4, 8, 3, zlib.compress(b"\0\xff\xff\xff\xff" * 4), _chunk(b"PLTE", bytes(9))),
    )
    yield "a palette of 10 bytes", _png_of(4, 4, 8, 3, row, _chunk(b"PLTE", bytes(10)))
    yield "interlace 9", _png_of(4, 4, 8, 2, row, interlace=9)
    yield "interlaced and cut", _png_of(400, 400, 8, 2, row, interlace=1)
    yield "filter bytes of 77", _png_of(4, 4, 8, 0, zlib.compress(b"M" * 20))
    bomb = zlib.compress(bytes(30 * MIB), 1)
    yield "a bomb of rows", _png_of(4, 4, 8, 2, bomb)
    yield "a bomb of 25 million pixels", _png_of(5000, 5000, 8, 0, zlib.compress(bytes(5001 * 5000), 1))
    for name in (b"iCCP", b"zTXt"):
        yield f"a bomb in {name.decode()}", _png_of(4, 4, 8, 2, row, _chunk(name, b"a\0\0" + bomb))
    yield "a bomb in iTXt", _png_of(4, 4, 8, 2, row, _chunk(b"iTXt", b"a\0\1\0\0\0" + bomb))
    yield "100000 text chunks", _png_of(4, 4, 8, 0, row, *[_chunk(b"tEXt", b"k\0v")] * 100_000)
    yield "a text chunk of 8 MB", _png_of(4, 4, 8, 0, row, _chunk(b"tEXt", b"k\0" + b"v" * 8_000_000))
    yield "text that is no text", _png_of(4, 4, 8, 0, row, _chunk(b"tEXt", b"\xff\xfe\0\xff\xfe"))
    yield "Exif of rubbish", _png_of(4, 4, 8, 0, row, _chunk(b"eXIf", b"MM\0*" + b"\xff" * 60))
    yield "a chunk length beyond the end", _png_of(4, 4, 8, 0, row, _chunk(b"tEXt", b"k\0v", length=0x7FFFFFFF))
    yield "a wrong checksum", _png_of(4, 4, 8, 0, row, _chunk(b"gAMA", b"\0\0\0\1", crc=1))
    yield "a gamma of 0", _png_of(4, 4, 8, 0, row, _chunk(b"gAMA", b"\0\0\0\0"))
    yield "an unknown critical chunk", _png_of(4, 4, 8, 0, row, _chunk(b"ABCD", b"x"))
    yield "no zlib", _png_of(4, 4, 8, 0, b"not compressed")
    yield "no IHDR", b"\x89PNG\r\n\x1a\n" + _chunk(b"IDAT", row) + _chunk(b"IEND", b"")
    yield "two IHDR", _png_of(4, 4, 8, 0, row, _chunk(b"IHDR", struct.pack(">IIBBBBB", 9, 9, 16, 6, 0, 0, 0)))


def _hald(whole: list[bytes]) -> Cases:
    def grey(width: int, height: int) -> bytes:
        return _png_of(width, height, 8, 0, zlib.compress(bytes((width + 1) * height), 1))

    for width, height in ((1, 1), (2, 2), (8, 7), (9, 9), (27, 26), (64, 63), (1, 729), (1727, 1728), (1728, 1728)):
        yield f"{width} x {height} pixels", grey(width, height)
    yield "level 11", grey(1331, 1331)


def _marker(code: int, data: bytes, length: int | None = None) -> bytes:
    """A JPEG marker segment (ITU-T T.81, B.1.1.4)."""
    return struct.pack(">BBH", 0xFF, code, len(data) + 2 if length is None else length) + data


def _jpg(whole: list[bytes]) -> Cases:
    data = whole[0]
    frame = data.find(b"\xff\xc0")
    for code in (0xC1, 0xC2, 0xC3, 0xC5, 0xC9, 0xCA, 0xCB):
        yield f"frame kind {code:#x}", data[: frame + 1] + bytes([code]) + data[frame + 2 :]
    for height, width in ((0, 0), (0, 8), (65535, 65535), (65500, 3000), (1, 65535), (65535, 1), (14000, 14000)):
        sized = data[: frame + 5] + struct.pack(">HH", height, width) + data[frame + 9 :]
        yield f"says {width} x {height}", sized
    for precision in (0, 1, 12, 16, 255):
        yield f"{precision} bits", data[: frame + 4] + bytes([precision]) + data[frame + 5 :]
    for parts in (0, 1, 2, 4, 5, 255):
        yield f"{parts} components", data[: frame + 9] + bytes([parts]) + data[frame + 10 :]
    for sampling in (0, 0x11, 0x41, 0x14, 0x44, 0xFF, 0x33):
        yield f"sampling {sampling:#x}", data[: frame + 11] + bytes([sampling]) + data[frame + 12 :]
    begin, rest = data[:2], data[2:]
    profile = b"ICC_PROFILE\0"
    for number, count in ((0, 0), (1, 255), (255, 1), (2, 1)):
        yield (
            f"profile part {number} of {count}",
            begin + _marker(0xE2, profile + bytes([number, count]) + b"x" * 200) + rest,
        )
    yield (
        "a profile of 16 MB",
        begin + b"".join(_marker(0xE2, profile + bytes([n, 255]) + bytes(65000)) for n in range(1, 256)) + rest,
    )
    exif = b"Exif\0\0"
    for what, body in {
        "rubbish": b"\xff" * 60,
        "an offset to itself": b"II*\0\x08\0\0\0\0\0\x08\0\0\0",
        "an endless directory": b"II*\0\x08\0\0\0"
        + struct.pack("<H", 65535)
        + b"\x12\x01\x03\0\xff\xff\xff\xff\0\0\0\0" * 20,
        "a directory that holds itself": b"II*\0\x08\0\0\0\1\0" + struct.pack("<HHII", 0x8769, 4, 1, 8) + bytes(4),
        "an orientation of 99": b"II*\0\x08\0\0\0\1\0" + struct.pack("<HHII", 0x0112, 3, 1, 99) + bytes(4),
        "numbers divided by 0": b"II*\0\x08\0\0\0\1\0" + struct.pack("<HHII", 0x829A, 5, 1, 26) + bytes(12),
        "a text without end": b"II*\0\x08\0\0\0\1\0" + struct.pack("<HHII", 0x010E, 2, 0xFFFFFFFF, 26) + bytes(4),
    }.items():
        yield f"Exif: {what}", begin + _marker(0xE1, exif + body) + rest
    yield "XMP of rubbish", begin + _marker(0xE1, b"http://ns.adobe.com/xap/1.0/\0<x" + b"<a>" * 20_000) + rest
    yield (
        "IPTC of rubbish",
        begin + _marker(0xED, b"Workbench 1.0\x00ABCD\x04\x04\0\0\xff\xff\xff\xff" + b"x" * 50) + rest,
    )
    yield "a comment that is no text", begin + _marker(0xFE, b"\xff\xfe\x80" * 50) + rest
    yield "50000 comments", begin + _marker(0xFE, b"x") * 50_000 + rest
    yield "a segment length of 0", begin + _marker(0xFE, b"", length=0) + rest
    yield "a segment beyond the end", begin + _marker(0xFE, b"x", length=65535) + rest
    yield "restart marks everywhere", data[:-200] + b"\xff\xd0" * 100 + data[-2:]
    yield "no tables", begin + data[frame:]
    yield "Adobe says YCCK", begin + _marker(0xEE, b"Adobe\0\x64\0\0\0\0\x02") + rest
    scan = data.find(b"\xff\xda")
    yield "2000 scans", data[:-2] + data[scan:-2] * 2000 + data[-2:]
    progressive = data[: frame + 1] + b"\xc2" + data[frame + 2 : -2]
    yield "2000 scans of a progressive one", progressive + data[scan:-2] * 2000 + data[-2:]
    big = progressive[: frame + 5] + struct.pack(">HH", 14000, 14000) + progressive[frame + 9 :]
    yield "100 progressive scans over 196 million pixels", big + data[scan:-2] * 100 + data[-2:]


def _tiff_of(tags: list[tuple[int, int, int, int]], after: bytes = b"", following: int = 0) -> bytes:
    """A TIFF of one directory (TIFF 6.0, section 2): tag, type, count, value."""
    entries = b"".join(struct.pack("<HHII", *(v & 0xFFFFFFFF for v in tag)) for tag in sorted(tags))
    return b"II*\0\x08\0\0\0" + struct.pack("<H", len(tags)) + entries + struct.pack("<I", following) + after


def _tif(whole: list[bytes]) -> Cases:
    base = {
        256: (4, 1, 4),
        257: (4, 1, 4),
        258: (3, 1, 8),
        259: (3, 1, 1),
        262: (3, 1, 1),
        273: (4, 1, 200),
        277: (3, 1, 1),
        278: (4, 1, 4),
        279: (4, 1, 16),
        284: (3, 1, 1),
    }

    def of(following: int = 0, **changed: tuple[int, int, int] | None) -> bytes:
        tags = dict(base) | {int(k[1:]): v for k, v in changed.items()}  # type: ignore[arg-type]
        return _tiff_of([(k, *v) for k, v in tags.items() if v], bytes(400), following)

    yield "small and whole", of()
    for width, height in (
        (0, 0),
        (0, 4),
        (4, 0),
        (-1, -1),
        (0x7FFFFFFF, 1),
        (1, 0x7FFFFFFF),
        (14_000, 14_000),
        (200_000, 1000),
    ):
        yield f"says {width} x {height}", of(t256=(4, 1, width), t257=(4, 1, height))
        yield f"says {width} x {height} in one strip", of(t256=(4, 1, width), t257=(4, 1, height), t278=(4, 1, -1))
        for code in (5, 8, 32773):
            yield (
                f"says {width} x {height}, compression {code}",
                of(t256=(4, 1, width), t257=(4, 1, height), t259=(3, 1, code)),
            )
    for tag in base:
        yield f"without tag {tag}", of(**{f"t{tag}": None})
        for count in (0, 0x7FFFFFFF, 0xFFFFFFFF):
            kind, _, value = base[tag]
            yield f"tag {tag} counts {count:#x}", of(**{f"t{tag}": (kind, count, value)})
        yield f"tag {tag} of type 12", of(**{f"t{tag}": (12, 1, 100)})
        yield f"tag {tag} of type 99", of(**{f"t{tag}": (99, 1, 100)})
    for bits in (0, 1, 2, 3, 7, 9, 12, 24, 31, 32, 64, 128, 65535):
        yield f"{bits} bits", of(t258=(3, 1, bits))
        yield f"{bits} bits of floating point", of(t258=(3, 1, bits), t339=(3, 1, 3))
    for samples in (0, 2, 5, 100, 65535):
        yield f"{samples} samples", of(t277=(3, 1, samples))
        yield f"{samples} samples in planes", of(t277=(3, 1, samples), t284=(3, 1, 2))
    for photometric in (2, 3, 5, 6, 8, 32803, 32844, 32845, 65535):
        yield f"photometric {photometric}", of(t262=(3, 1, photometric))
    for code in (0, 2, 3, 4, 5, 6, 7, 8, 32773, 32809, 34676, 34712, 34887, 34925, 50000, 65535):
        yield f"compression {code}", of(t259=(3, 1, code))
    for predictor in (2, 3, 99):
        yield f"predictor {predictor}", of(t317=(3, 1, predictor), t259=(3, 1, 8))
    for side in (0, 1, 16, 0x7FFFFFF0, 0xFFFFFFFF):
        yield f"tiles of {side}", of(t322=(4, 1, side), t323=(4, 1, side), t324=(4, 1, 200), t325=(4, 1, 16))
    yield "a strip beyond the end", of(t273=(4, 1, 0x7FFFFFFF))
    yield "a strip of 4 GB", of(t279=(4, 1, 0xFFFFFFFF))
    yield "0 rows a strip", of(t278=(4, 1, 0))
    yield "a directory that follows itself", of(following=8)
    yield "directories in a circle", of(following=len(_tiff_of([(k, *v) for k, v in base.items()])))
    yield "a following directory beyond the end", of(following=0x7FFFFFFF)
    yield "the directory beyond the end", b"II*\0\xff\xff\xff\x7f"
    yield "the directory at 0", b"II*\0\0\0\0\0" + bytes(100)
    yield "a directory of 65535 entries", b"II*\0\x08\0\0\0\xff\xff" + bytes(12) * 1000
    yield "a large file's header", b"II+\0\x08\0\0\0" + struct.pack("<Q", 0x7FFFFFFFFFFFFFFF)
    yield "a large file's 2^63 entries", b"II+\0\x08\0\0\0" + struct.pack("<QQ", 16, 1 << 63) + bytes(200)
    yield "an orientation of 99", of(t274=(3, 1, 99))
    yield "a profile of 4 GB", of(t34675=(7, 0xFFFFFFFF, 100))
    yield "a profile of rubbish", of(t34675=(7, 200, 180))
    yield "Exif in a circle", of(t34665=(4, 1, 8))
    yield "more directories in a circle", of(t330=(4, 1, 8))
    yield "a description that is no text", of(t270=(2, 200, 180))
    data = whole[2]
    at = data.find(struct.pack("<f", 1.0))
    for name, word in {
        "nan": b"\0\0\xc0\x7f",
        "inf": b"\0\0\x80\x7f",
        "-inf": b"\0\0\x80\xff",
        "snan": b"\1\0\x80\x7f",
    }.items():
        yield f"{name} in it", data[:at] + word + data[at + 4 :] if at > 0 else data


def _attribute(name: str, kind: str, value: bytes, size: int | None = None) -> bytes:
    """An OpenEXR header attribute (OpenEXR file layout: name, type, size, value)."""
    return (
        name.encode() + b"\0" + kind.encode() + b"\0" + struct.pack("<I", len(value) if size is None else size) + value
    )


def _exr_of(**changed: bytes | None) -> bytes:
    """An uncompressed half-float EXR of 2 x 2 grey pixels; attributes replaced by name, None leaves out."""
    box = struct.pack("<iiii", 0, 0, 1, 1)
    attributes: dict[str, bytes | None] = {
        "channels": _attribute("channels", "chlist", _channel("Y") + b"\0"),
        "compression": _attribute("compression", "compression", b"\0"),
        "dataWindow": _attribute("dataWindow", "box2i", box),
        "displayWindow": _attribute("displayWindow", "box2i", box),
        "lineOrder": _attribute("lineOrder", "lineOrder", b"\0"),
        "pixelAspectRatio": _attribute("pixelAspectRatio", "float", struct.pack("<f", 1.0)),
        "screenWindowCenter": _attribute("screenWindowCenter", "v2f", bytes(8)),
        "screenWindowWidth": _attribute("screenWindowWidth", "float", struct.pack("<f", 1.0)),
    }
    head = b"\x76\x2f\x31\x01" + (changed.pop("version", None) or b"\2\0\0\0")
    pixels = changed.pop("pixels", None) or b"\0\x38" * 2
    attributes |= changed
    head += b"".join(a for a in attributes.values() if a) + b"\0"
    lines = [struct.pack("<iI", y, len(pixels)) + pixels for y in range(2)]
    first = len(head) + 16
    return head + struct.pack("<QQ", first, first + len(lines[0])) + b"".join(lines)


def _channel(name: str, kind: int = 1, sampling: tuple[int, int] = (1, 1)) -> bytes:
    return name.encode() + b"\0" + struct.pack("<iB3xii", kind, 0, *sampling)


def _exr(whole: list[bytes]) -> Cases:
    def window(*box: int) -> bytes:
        return struct.pack("<iiii", *box)

    yield "small and whole", _exr_of()
    low, high = -(2**31), 2**31 - 1
    for box in (
        (0, 0, -1, -1),
        (1, 1, 0, 0),
        (low, low, high, high),
        (0, 0, high, 0),
        (0, 0, 0, high),
        (low, 0, low + 1, 1),
        (high - 1, 0, high, 1),
        (0, 0, 13_999, 13_999),
        (0, 0, 99_999, 1999),
        (-7000, -7000, 6999, 6999),
    ):
        for which in ("dataWindow", "displayWindow"):
            yield f"{which} {box}", _exr_of(**{which: _attribute(which, "box2i", window(*box))})
        yield (
            f"both windows {box}",
            _exr_of(
                dataWindow=_attribute("dataWindow", "box2i", window(*box)),
                displayWindow=_attribute("displayWindow", "box2i", window(*box)),
            ),
        )
    for code in range(1, 14):
        yield (
            f"compression {code} of what is not compressed",
            _exr_of(compression=_attribute("compression", "compression", bytes([code]))),
        )
    for name in ("channels", "compression", "dataWindow", "displayWindow", "lineOrder", "pixelAspectRatio"):
        yield f"without {name}", _exr_of(**{name: None})
        for size in (0, 1, 0x7FFFFFFF, 0xFFFFFFFF):
            yield f"{name} of {size:#x} bytes", _exr_of(**{name: _attribute(name, "int", bytes(4), size)})
    for sampling in ((0, 0), (-1, 1), (2, 2), (high, high)):
        chlist = _channel("Y", sampling=sampling) + b"\0"
        yield f"sampling {sampling}", _exr_of(channels=_attribute("channels", "chlist", chlist))
    for kind in (0, 2, 3, -1, 99):
        yield f"pixels of type {kind}", _exr_of(channels=_attribute("channels", "chlist", _channel("Y", kind) + b"\0"))
    for what, chlist in {
        "no channel": b"\0",
        "a channel twice": _channel("Y") * 2 + b"\0",
        "a channel without name": _channel("") + b"\0",
        "10000 channels": b"".join(_channel(f"c{n:05d}") for n in range(10_000)) + b"\0",
        "a name of 1 MB": _channel("c" * MIB) + b"\0",
        "a list without end": _channel("Y"),
        "a name that is no text": b"\xff\xfe" + _channel("Y") + b"\0",
    }.items():
        yield what, _exr_of(channels=_attribute("channels", "chlist", chlist))
    for name, half in {"nan": b"\0\x7e", "inf": b"\0\x7c", "-inf": b"\0\xfc"}.items():
        yield f"{name} in it", _exr_of(pixels=half * 2)
    for version in (
        b"\1\0\0\0",
        b"\3\0\0\0",
        b"\2\2\0\0",
        b"\2\x08\0\0",
        b"\2\x10\0\0",
        b"\2\x18\0\0",
        b"\xff\xff\xff\xff",
    ):
        yield f"version {version.hex()}", _exr_of(version=version)
    for side in (0, 1, high, -1):
        tiles = _attribute("tiles", "tiledesc", struct.pack("<iiB", side, side, 0))
        yield f"tiles of {side}", _exr_of(version=b"\2\2\0\0", tiles=tiles)
    for aspect in (0.0, -1.0, float("nan"), float("inf"), 1e38):
        yield (
            f"aspect {aspect}",
            _exr_of(pixelAspectRatio=_attribute("pixelAspectRatio", "float", struct.pack("<f", aspect))),
        )
    yield "50000 attributes", _exr_of(more=b"".join(_attribute(f"a{n}", "int", bytes(4)) for n in range(50_000)))
    yield "a text of 5 MB", _exr_of(more=_attribute("comments", "string", b"x" * 5_000_000))
    yield (
        "a preview of 2^31",
        _exr_of(more=_attribute("preview", "preview", struct.pack("<II", 0x7FFFFFFF, 0x7FFFFFFF))),
    )
    data = _exr_of()
    end = data.rfind(struct.pack("<iI", 0, 4)) - 16
    for offset in (0, 1, 0x7FFFFFFFFFFFFFFF, 0xFFFFFFFFFFFFFFFF):
        yield f"lines at {offset:#x}", data[:end] + struct.pack("<QQ", offset, offset) + data[end + 16 :]


def _dpx(whole: list[bytes]) -> Cases:
    """Fields by their place in SMPTE ST 268-1: offset 4, size 16, orientation 768, elements 770, width 772, height 776."""
    for number, data in enumerate(whole):
        order = "<" if data[:4] == b"XPDS" else ">"

        def put(at: int, form: str, value: int, data: bytes = data, order: str = order) -> bytes:
            packed = struct.pack(order + form, value)
            return data[:at] + packed + data[at + len(packed) :]

        for at, name in ((4, "offset"), (16, "file size"), (24, "generic size"), (772, "width"), (776, "height")):
            for value in (0, 1, 0x7FFFFFFF, 0xFFFFFFFF, 14_000):
                yield f"still {number}: {name} {value:#x}", put(at, "I", value)
        for value in (1, 7, 8, 99, 0xFFFF):
            yield f"still {number}: orientation {value}", put(768, "H", value)
            yield f"still {number}: {value} elements", put(770, "H", value)
        for value in (0, 1, 7, 9, 12, 32, 64, 255):
            yield f"still {number}: {value} bits", put(803, "B", value)
        for value in (0, 4, 6, 8, 51, 100, 102, 150, 255):
            yield f"still {number}: content {value}", put(800, "B", value)
        for value in (1, 2, 3, 99, 0xFFFF):
            yield f"still {number}: packing {value}", put(804, "H", value)
            yield f"still {number}: encoding {value}", put(806, "H", value)
        for value in (1, 0x7FFFFFFF, 0xFFFFFFFE):
            yield f"still {number}: data at {value:#x}", put(808, "I", value)
            yield f"still {number}: {value:#x} bytes after lines", put(812, "I", value)
        both = put(772, "I", 14_000)
        yield f"still {number}: 14000 x 14000", both[:776] + struct.pack(order + "I", 14_000) + both[780:]
        yield f"still {number}: the other order of bytes", data[:4][::-1] + data[4:]
        yield f"still {number}: text fields full", data[:36] + b"\xff" * 700 + data[736:]


# ---------------------------------------------------------------- WebP


def _webp(whole: list[bytes]) -> Cases:
    """Sizes, chunks and flags of RFC 9649 set to what cannot be; the stream of VP8L begins after 20 bytes."""
    plain, covered = whole[0], whole[-1]
    at = plain.find(b"VP8L")
    for width, height in ((1, 1), (16384, 16384), (16384, 1), (1, 16384), (9000, 9000)):
        bits = (width - 1) | (height - 1) << 14
        yield f"says {width} x {height}", plain[: at + 9] + struct.pack("<I", bits) + plain[at + 13 :]
    for version in range(1, 8):
        yield f"version {version}", plain[: at + 12] + bytes([plain[at + 12] | version << 5]) + plain[at + 13 :]
    for size in (0, 1, 12, len(plain), 0xFFFFFFF6, 0xFFFFFFFF):
        yield f"a file of {size} bytes", plain[:4] + struct.pack("<I", size) + plain[8:]
        yield f"a chunk of {size} bytes", plain[: at + 4] + struct.pack("<I", size) + plain[at + 8 :]
    for data in (plain, covered):
        for name in (b"VP8 ", b"VP8L", b"VP8X", b"ANIM", b"ANMF", b"ALPH", b"ICCP", b"EXIF", b"    "):
            yield f"first chunk {name!r}", data[:12] + name + data[16:]
        for flags in range(0, 256, 7):
            yield f"flags {flags:#x}", data[:20] + bytes([flags]) + data[21:]
    for name in (b"EXIF", b"ICCP", b"XMP "):
        for body in (b"", b"x", b"II*\0\xff\xff\xff\xff", b"MM\0*" + b"\xff" * 60, bytes(1 << 20)):
            chunk = name + struct.pack("<I", len(body)) + body + bytes(len(body) % 2)
            for place in (12, 30, len(covered)):
                changed = covered[:place] + chunk + covered[place:]
                yield (
                    f"{name!r} of {len(body)} bytes at {place}",
                    changed[:4] + struct.pack("<I", len(changed) - 8) + changed[8:],
                )
    yield "one colour, 16383 x 12000", _webp_of_one_colour(16383, 12000)
    once = covered[12:]
    yield "its chunks 2000 times", b"RIFF" + struct.pack("<I", 4 + 2000 * len(once)) + b"WEBP" + once * 2000


def _webp_of_one_colour(width: int, height: int) -> bytes:
    """A whole VP8L file: no transform, no cache, five codes of one symbol each, so that a pixel takes no bit at all."""
    bits = (width - 1) | (height - 1) << 14
    stream = b"\x2f" + struct.pack("<I", bits | 1 << 28)  # with alpha, version 0
    # RFC 9649, 5.2.1: no transform, no colour cache, no meta codes; then per code "simple", one symbol, 8 bits, 128.
    codes, at = 0, 3
    for _ in range(5):
        codes |= (0b1 | 0 << 1 | 1 << 2 | (128 if _ < 4 else 0) << 3) << at
        at += 11
    stream += codes.to_bytes((at + 7) // 8 + 1, "little")
    body = b"VP8L" + struct.pack("<I", len(stream)) + stream + bytes(len(stream) % 2)
    return b"RIFF" + struct.pack("<I", 4 + len(body)) + b"WEBP" + body


# ---------------------------------------------------------------- clips


def _mp4(whole: list[bytes]) -> Cases:
    """Boxes of ISO/IEC 14496-12 with lengths, counts and tables that cannot be."""
    data = whole[0]

    def at(name: bytes, offset: int, value: int, what: str) -> tuple[str, bytes]:
        place = data.index(name) + 4 + offset
        return f"{name.decode()}: {what}", data[:place] + struct.pack(">I", value) + data[place + 4 :]

    for name in (b"ftyp", b"mdat", b"moov", b"trak", b"mdia", b"minf", b"stbl", b"stsd", b"stts", b"stsz", b"avcC"):
        for size in (0, 1, 2, 7, 0x7FFFFFFF, 0xFFFFFFFF):
            yield at(name, -8, size, f"{size:#x} bytes long")
    for name, offset in ((b"stts", 4), (b"stsz", 8), (b"stco", 4), (b"stsc", 4), (b"stsd", 4), (b"dref", 4)):
        for count in (0, 2, 0xFFFF, 0x7FFFFFFF, 0xFFFFFFFF):
            yield at(name, offset, count, f"{count:#x} entries")
    for value in (0, 1, 0xFFFFFFFF):
        yield at(b"mvhd", 12, value, f"{value:#x} units a second")
        yield at(b"mvhd", 16, value, f"{value:#x} units long")
        yield at(b"mdhd", 12, value, f"{value:#x} units a second")
        yield at(b"mdhd", 16, value, f"{value:#x} units long")
        yield at(b"stts", 12, value, f"frames {value:#x} long")
        yield at(b"stco", 8, value, f"frames from byte {value:#x}")
    sizes = data.index(b"avc1") + 4 + 24
    for width, height in ((0, 0), (1, 65535), (65535, 65535), (16384, 16384), (33, 25)):
        yield f"{width} by {height} pixels", data[:sizes] + struct.pack(">HH", width, height) + data[sizes + 4 :]
    place = data.index(b"url ")
    yield "its frames in another file", data[: place + 4] + bytes(4) + b"file:///etc/passwd\0"[:4] + data[place + 12 :]
    yield "boxes without end", data[:32] + struct.pack(">I4s", 8, b"free") * 200_000
    yield "boxes nested 5000 deep", b"".join(struct.pack(">I4s", 8 * n, b"moov") for n in range(5000, 0, -1))
    yield "a list of files", b"ffconcat version 1.0\nfile /etc/passwd\n"
    yield "a playlist", b"#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\n/etc/passwd\n"
    for number in range(8):
        chance = random.Random(number)
        bad = bytearray(data)
        start = (data.index(b"mdat") + len(data)) // 2  # past the encoder's remarks
        for _ in range(12):
            bad[chance.randrange(start, len(data))] ^= 1 << chance.randrange(8)
        yield f"a dozen flipped bits, {number}", bytes(bad)


if __name__ == "__main__":
    made = hostile_files(Path(sys.argv[1]))
    for reader, count in Counter(h.reader for h in made).items():
        print(f"{reader:8} {count}")
    print(f"{'all':8} {len(made)}")
