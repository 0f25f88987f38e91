"""Memory is asked for before it is taken, and pictures are worked on side by side only as far as it goes."""

from __future__ import annotations

import struct
import subprocess
import sys
import threading
import time
import zlib
from pathlib import Path

import numpy as np
import pytest
import tifffile

from lookwright import memory
from lookwright.errors import PictureError
from lookwright.memory import Turns, available, in_words
from lookwright.pictures.stills import read, size_of, write
from lookwright.pictures.stills import read as read_still

ROOT = Path(__file__).parents[2]


def flat_png(path: Path, width: int, height: int) -> Path:
    """RGB of 8 bits, every row the same: a thousand times smaller than its pixels."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    packer = zlib.compressobj(9)
    row = b"\1" + bytes([90, 80, 70]) + bytes(3 * (width - 1))  # filter 1: each pixel as the one before it
    data = b"".join(packer.compress(row) for _ in range(height)) + packer.flush()
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", data) + chunk(b"IEND", b""))
    return path


def test_a_large_picture_takes_memory_in_proportion(tmp_path: Path) -> None:
    """30 million pixels through ``preview``: under 24 bytes a pixel above what a small one takes. It was over 30."""
    flat_png(tmp_path / "large.png", 6000, 5000)
    flat_png(tmp_path / "small.png", 60, 50)
    code = (
        "import resource, sys; from lookwright.app.cli import main\n"
        "try: main(sys.argv[1:])\n"
        "except SystemExit as e: print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss); sys.exit(e.code)"
    )
    took = {}
    for name in ("small", "large"):
        look, out = ROOT / "looks" / "overcast.toml", tmp_path / name
        words = ["preview", look, "--stills", tmp_path / f"{name}.png", "--out", out, "--quiet"]
        done = subprocess.run([sys.executable, "-c", code, *map(str, words)], capture_output=True, timeout=120)
        assert done.returncode == 0, done
        took[name] = int(done.stdout) * 1024
    assert (took["large"] - took["small"]) / 30e6 < 24


def test_bands_give_the_same_pixels(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As if every picture were too large to be read at once: the same bytes from every format."""
    import importlib

    module = importlib.import_module("lookwright.pictures.stills.read")
    chance = np.random.default_rng(3)
    pixels = chance.random((700, 33, 3)).astype(np.float32)
    alpha = chance.random((700, 33)).astype(np.float32)
    paths = [
        write(tmp_path / "a.png", pixels, alpha=alpha),
        write(tmp_path / "b.png", pixels, "8"),
        write(tmp_path / "c.tif", pixels, alpha=alpha),
        write(tmp_path / "d.tif", pixels, "float"),
        write(tmp_path / "e.exr", pixels, alpha=alpha),
        write(tmp_path / "f.dpx", pixels),
        write(tmp_path / "g.jpg", pixels),
    ]
    tifffile.imwrite(tmp_path / "h.tif", (pixels * 65535).astype(np.uint16), photometric="rgb", tile=(64, 64))
    tifffile.imwrite(tmp_path / "i.tif", (alpha * 65535).astype(np.uint16), photometric="minisblack")
    paths += [tmp_path / "h.tif", tmp_path / "i.tif"]
    whole = [read(p) for p in paths]
    monkeypatch.setattr(module, "_LARGE", 1000)
    monkeypatch.setattr(module, "_BAND", 33 * 256)
    for path, known in zip(paths, whole, strict=True):
        found = read(path)
        np.testing.assert_array_equal(found.pixels, known.pixels, err_msg=path.name)
        assert (found.alpha is None) == (known.alpha is None)
        if found.alpha is not None and known.alpha is not None:
            np.testing.assert_array_equal(found.alpha, known.alpha, err_msg=path.name)


def test_it_is_told_before_it_is_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import importlib

    module = importlib.import_module("lookwright.pictures.stills.read")
    path = flat_png(tmp_path / "large.png", 6000, 4000)
    monkeypatch.setattr(module, "available", lambda: 100_000_000)
    with pytest.raises(
        PictureError, match=r"6000x4000 pixels need 288 MB of memory, and 100 MB is free; scale it down"
    ):
        read_still(path)


def test_a_compression_that_is_not_built_in_is_named(tmp_path: Path) -> None:
    """OpenImageIO's libtiff is built without LZMA; the file is whole, so it is not called damaged."""
    path = tmp_path / "packed.tif"
    tifffile.imwrite(path, np.zeros((9, 9, 3), np.uint16), photometric="rgb", compression="lzma")
    with pytest.raises(PictureError) as caught:
        read(path)
    assert str(caught.value).endswith(
        "its compression, LZMA, cannot be read here; expected LZW, ZIP (deflate) or none; save it again so"
    )


def test_size_of(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert size_of(flat_png(tmp_path / "a.png", 70, 50)) == (70, 50)
    (tmp_path / "b.png").write_bytes((tmp_path / "a.png").read_bytes()[:40])
    assert size_of(tmp_path / "none.png") == (0, 0)
    size_of(tmp_path / "b.png")
    assert size_of(tmp_path) == (0, 0)
    assert size_of(tmp_path / "no text\udcff.png") == (0, 0)
    (tmp_path / "no text\udcff.png").write_bytes((tmp_path / "a.png").read_bytes())
    assert size_of(tmp_path / "no text\udcff.png") == (0, 0)
    assert capfd.readouterr() == ("", ""), "libpng speaks to nobody"


def test_turns_wait_for_memory() -> None:
    turns = Turns(100)
    held = worst = 0
    lock = threading.Lock()

    def work(need: int) -> None:
        nonlocal held, worst
        with turns.of(need):
            with lock:
                held += need
                worst = max(worst, held)
            time.sleep(0.01)
            with lock:
                held -= need

    threads = [threading.Thread(target=work, args=(n,)) for n in [40] * 12]
    for t in threads:
        t.start()
    for t in threads:
        t.join(20)
    assert held == 0 and worst == 80, "two at once, never three"
    with turns.of(1000):  # more than there is: alone
        pass


def test_what_is_available(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    free = available()
    assert free is None or 0 <= free < 1 << 50
    monkeypatch.setattr(memory, "_of_system", lambda: 5000)
    monkeypatch.setattr(memory, "_of_group", lambda: -3)
    monkeypatch.setattr(memory, "_of_process", lambda: None)
    assert available() == 0
    assert [in_words(n) for n in (3.12e9, 2.4e8)] == ["3.1 GB", "240 MB"]


def test_a_limit_on_the_process_counts() -> None:
    code = (
        "import resource; from lookwright.memory import available\n"
        "resource.setrlimit(resource.RLIMIT_AS, (1 << 30, 1 << 30)); print(available())"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, timeout=30)
    assert 0 < int(done.stdout) < 1 << 30


def told_and_not(code: str) -> list[int]:
    """What a program says in two fresh processes: with its C library told what to do with memory, and without."""
    said = [
        subprocess.run([sys.executable, "-c", code, how], capture_output=True, text=True, check=True).stdout
        for how in ("told", "not")
    ]
    if "nothing" in said[0]:
        pytest.skip("another C library")
    return [int(number) for number in said]


FREED = """
import sys
import numpy as np
from lookwright import system

def resident():
    return int(open("/proc/self/status").read().split("VmRSS:")[1].split()[0]) * 1024

if sys.argv[1] == "told" and not system.give_memory_back():
    print("nothing to tell")
    raise SystemExit
np.ones(3 << 20)  # 24 MB, freed: from here on the allocator holds arrays of up to that size for large no more
large, small = [], []
for _ in range(60):
    large.append(np.ones(1 << 18))  # 2 MB
    small.append(np.ones(1 << 12))  # 32 KB that stay, between them
before = resident()
large.clear()
print((before - resident()) // 2**20)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="asks the C library of Linux")
def test_large_arrays_that_are_freed_go_back_to_the_system() -> None:
    """120 MB of arrays between small ones that stay: freed, they are no longer resident."""
    told, not_told = told_and_not(FREED)
    assert told > 100
    assert not_told < 60  # without it most stays: what is asserted above is not so by itself


KEPT = """
import resource, sys
import numpy as np
from lookwright import system

if sys.argv[1] == "told" and not system.keep_memory():
    print("nothing to tell")
    raise SystemExit

def pictures():
    for _ in range(10):
        held = [np.ones(30 << 17) for _ in range(3)]  # 30 MB each
        held.clear()

pictures()
before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
pictures()
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="asks the C library of Linux")
def test_the_memory_of_one_picture_serves_the_next() -> None:
    """Ten times 90 MB, freed in between: told, the pages are there already and no page fault gets them anew."""
    told, not_told = told_and_not(KEPT)
    assert told < 100
    assert not_told > 200  # huge pages would make few faults of many
