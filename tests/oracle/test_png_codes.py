"""The codes of PNGs of every kind: our quick way, where it is taken, against OpenImageIO's (libpng)."""

import struct
import zlib
from pathlib import Path

import numpy as np
import pytest

from lookwright.errors import PictureError
from lookwright.pictures.stills import png, read

pytest.importorskip("isal")
pytest.importorskip("av")

START = b"\x89PNG\r\n\x1a\n"
CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}


def chunk(name: bytes, data: bytes, crc: int = 0) -> bytes:
    """PNG specification, 5.3; ``crc`` is added to the right one."""
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data) ^ crc)


def rows_of(width: int, height: int, bits: int = 16, colour: int = 2, filters: str = "01234") -> bytes:
    """Random bytes behind filter types in turn: every row is valid, whatever it comes to."""
    size = (width * bits * CHANNELS[colour] + 7) // 8
    random = np.random.default_rng(width * height + bits + colour).integers(0, 256, (height, size), np.uint8)
    return b"".join(bytes([int(filters[y % len(filters)])]) + random[y].tobytes() for y in range(height))


def picture(
    width: int,
    height: int,
    stream: bytes,
    bits: int = 16,
    colour: int = 2,
    interlace: int = 0,
    before: bytes = b"",
    after: bytes = b"",
    cut: int = 0,
) -> bytes:
    """A file; the stream lies in chunks of ``cut`` bytes."""
    head = struct.pack(">IIBBBBB", width, height, bits, colour, 0, 0, interlace)
    parts = [stream[n : n + cut] for n in range(0, len(stream), cut)] if cut else [stream]
    data = b"".join(chunk(b"IDAT", p) for p in parts)
    return START + chunk(b"IHDR", head) + before + data + after + chunk(b"IEND", b"")


def library(path: Path, count: int, kind: str) -> np.ndarray | None:
    """OpenImageIO's codes, or None where it refuses."""
    import OpenImageIO as oiio

    source = oiio.ImageInput.open(str(path))
    if source is None:
        oiio.geterror()
        return None
    codes = source.read_image(0, 0, 0, count, kind)
    fault = source.geterror()
    source.close()
    return None if fault else codes


@pytest.mark.parametrize(("width", "height"), [(1, 1), (3, 2), (64, 40), (31, 17), (257, 300), (1919, 33), (11000, 5)])
@pytest.mark.parametrize("bits", [8, 16])
def test_the_same_codes_for_every_filter_and_size(tmp_path: Path, width: int, height: int, bits: int) -> None:
    path = tmp_path / "a.png"
    for filters in ("01234", "4", "3", "2", "1", "0", "4321"):
        path.write_bytes(picture(width, height, zlib.compress(rows_of(width, height, bits, 2, filters)), bits))
        ours = png.decode(path, width, height, bits)
        assert ours is not None and ours.dtype == f"uint{bits}"
        theirs = library(path, 3, f"uint{bits}")
        assert theirs is not None and np.array_equal(ours, theirs), filters


def test_many_strips(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Strips of one row, of some, of all: each looks back to the row before it."""
    path = tmp_path / "a.png"
    path.write_bytes(picture(50, 41, zlib.compress(rows_of(50, 41)), cut=700))
    theirs = library(path, 3, "uint16")
    for size in (1, 301, 903, 4000, 1 << 20):
        monkeypatch.setattr(png, "_STRIP", size)
        ours = png.decode(path, 50, 41, 16)
        assert ours is not None and theirs is not None and np.array_equal(ours, theirs), size


PROFILE = chunk(b"iCCP", b"a\0\0" + zlib.compress(bytes(132)))
AROUND = {
    "gAMA": chunk(b"gAMA", struct.pack(">I", 45455)),
    "sRGB": chunk(b"sRGB", b"\0"),
    "gAMA and cHRM": chunk(b"gAMA", struct.pack(">I", 100000)) + chunk(b"cHRM", struct.pack(">8I", *[30000] * 8)),
    "cICP": chunk(b"cICP", bytes([9, 16, 0, 1])),
    "iCCP": PROFILE,
    "sBIT": chunk(b"sBIT", bytes([5, 5, 5])),
    "bKGD": chunk(b"bKGD", bytes(6)),
    "pHYs": chunk(b"pHYs", struct.pack(">IIB", 10, 20, 0)),
    "PLTE, suggested": chunk(b"PLTE", bytes(range(9))),
    "text": chunk(b"tEXt", b"Comment\0of the workshop"),
}


@pytest.mark.parametrize("what", AROUND)
def test_what_stands_beside_the_codes_leaves_them_alone(tmp_path: Path, what: str) -> None:
    path = tmp_path / "a.png"
    for bits in (8, 16):
        path.write_bytes(picture(40, 30, zlib.compress(rows_of(40, 30, bits)), bits, before=AROUND[what], cut=900))
        ours, theirs = png.decode(path, 40, 30, bits), library(path, 3, f"uint{bits}")
        assert ours is not None and theirs is not None and np.array_equal(ours, theirs)
        assert np.array_equal(read(path).pixels, ours.astype(np.float32) / np.float32(2**bits - 1))


def test_other_kinds_are_left_to_libpng(tmp_path: Path) -> None:
    """Grey, palette, alpha, few bits, interlaced, a colour that is transparent."""
    path = tmp_path / "a.png"
    palette = chunk(b"PLTE", bytes(range(48)))
    for bits, colour in ((8, 0), (16, 0), (1, 0), (4, 3), (8, 4), (16, 4), (8, 6), (16, 6)):
        rows = rows_of(20, 10, bits, colour)
        before = palette if colour == 3 else b""
        path.write_bytes(picture(20, 10, zlib.compress(rows), bits, colour, before=before))
        for asked in (8, 16):
            assert png.decode(path, 20, 10, asked) is None, (bits, colour)
        assert read(path).pixels.shape == (10, 20, 3)
    clear = chunk(b"tRNS", bytes(6))
    path.write_bytes(picture(20, 10, zlib.compress(rows_of(20, 10)), before=clear))
    assert png.decode(path, 20, 10, 16) is None and read(path).alpha is not None
    path.write_bytes(picture(1, 1, zlib.compress(rows_of(1, 1)), interlace=1))
    assert png.decode(path, 1, 1, 16) is None and read(path).pixels.shape == (1, 1, 3)


def _damaged() -> dict[str, bytes]:
    rows = rows_of(40, 30)
    stream = zlib.compress(rows)
    line = 241
    absent = bytearray(rows)
    absent[7 * line] = 5
    first = bytearray(rows)
    first[0] = 255
    half = len(stream) // 2
    made = {
        "a filter that does not exist": picture(40, 30, zlib.compress(bytes(absent))),
        "the same in the first row": picture(40, 30, zlib.compress(bytes(first))),
        "a row missing": picture(40, 30, zlib.compress(rows[:-line])),
        "a byte missing": picture(40, 30, zlib.compress(rows[:-1])),
        "a wrong Adler-32": picture(40, 30, stream[:-1] + bytes([stream[-1] ^ 1])),
        "a wrong CRC of IDAT": picture(40, 30, b"").replace(
            chunk(b"IDAT", b""), chunk(b"IDAT", stream[:half]) + chunk(b"IDAT", stream[half:], crc=1)
        ),
        "another chunk within the data": picture(40, 30, b"").replace(
            chunk(b"IDAT", b""), chunk(b"IDAT", stream[:half]) + chunk(b"tEXt", b"k\0v") + chunk(b"IDAT", stream[half:])
        ),
        "no data": picture(40, 30, b""),
        "no IEND": picture(40, 30, stream)[:-12],
        "a dictionary asked for": picture(40, 30, b"\x78\x20" + stream[2:]),
        "rubbish in the middle": picture(40, 30, stream[:half] + b"\xff" * 9 + stream[half + 9 :]),
    }
    made |= {f"{n} bytes of the stream missing": picture(40, 30, stream[:-n]) for n in range(1, 9)}
    made |= {f"cut after {n} bytes": picture(40, 30, stream)[:-n] for n in (1, 11, 13, 16, 17, 40, 3000)}
    return made


@pytest.mark.parametrize("what", _damaged())
def test_damage_is_refused_as_libpng_refuses_it(tmp_path: Path, what: str) -> None:
    """Also by the quick way, which leaves it to libpng to say what is wrong."""
    path = tmp_path / "a.png"
    path.write_bytes(_damaged()[what])
    assert png.decode(path, 40, 30, 16) is None
    with pytest.raises(PictureError, match="damaged or cut short"):
        read(path)


def test_a_bit_anywhere(tmp_path: Path) -> None:
    """Of every flipped bit: what the quick way still takes, libpng takes too, with the same codes."""
    rows = rows_of(9, 7)
    whole = picture(9, 7, zlib.compress(rows, 1), before=chunk(b"gAMA", struct.pack(">I", 45455)), cut=150)
    path = tmp_path / "a.png"
    taken = 0
    for at in range(8 * len(whole)):
        made = bytearray(whole)
        made[at // 8] ^= 1 << (at % 8)
        path.write_bytes(made)
        ours = png.decode(path, 9, 7, 16)
        if ours is not None:
            taken += 1
            theirs = library(path, 3, "uint16")
            assert theirs is not None and np.array_equal(ours, theirs), at
    assert taken == 0  # every byte stands under a checksum


def test_more_than_the_picture_needs(tmp_path: Path) -> None:
    """Bytes after the stream, rows too many and a bomb: libpng's to judge, and little is inflated of it here."""
    path = tmp_path / "a.png"
    stream = zlib.compress(rows_of(40, 30))
    for data in (stream + b"more", zlib.compress(rows_of(40, 31)), zlib.compress(rows_of(40, 30) + bytes(50_000_000))):
        path.write_bytes(picture(40, 30, data))
        assert png.decode(path, 40, 30, 16) is None
        assert library(path, 3, "uint16") is not None and read(path).pixels.shape == (30, 40, 3)


def test_without_the_libraries_libpng_does_it_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(picture(40, 30, zlib.compress(rows_of(40, 30))))
    before = read(path).pixels
    for name in ("av", "isal"):
        with monkeypatch.context() as patch:
            patch.setitem(__import__("sys").modules, name, None)
            assert png.decode(path, 40, 30, 16) is None and np.array_equal(read(path).pixels, before)
