"""Mixed-up encodings are noticed; right ones are left in peace."""

from pathlib import Path

import colour
import numpy as np
import pytest
from matplotlib import cbook
from PIL import Image

from lookwright.assess.measure.levels import display_light
from lookwright.assess.measure.plausible import findings
from lookwright.assess.measure.steps import even_steps
from lookwright.colour.spaces.ranges import from_full
from lookwright.colour.spaces.signal import Signal
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import read_look
from lookwright.pictures.stills import read

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
LOOKS = SAMPLES.parent / "looks"
NAMES = ("wide", "close", "close_ep2", "insert", "chart", "day")
LOG, LINEAR = Signal.named("ACEScct"), Signal.named("ACEScg")


def ten_bit(x: np.ndarray) -> np.ndarray:
    return np.clip(np.rint(x * 1023.0), 0, 1023) / 1023.0


@pytest.fixture(scope="module", params=NAMES)
def still(request: pytest.FixtureRequest) -> tuple[str, np.ndarray]:
    return request.param, read(SAMPLES / f"{request.param}_acescct.png").pixels[::6, ::6].astype(np.float64)


def kinds(x: np.ndarray, name: str, range_: str = "full") -> list[str]:
    found = findings(x, Signal.named(name, range=range_))
    assert all(f.sentence and f.evidence for f in found)
    return [f.reads_like for f in found]


def finished(log: np.ndarray) -> np.ndarray:
    """A BT.1886 picture as it leaves a grade: its darkest and brightest hundredth set to black and white.

    The plain rendering by itself leaves both ends open: it reaches white 9.5 stops over grey.
    """
    shown = Signal.named("BT.1886").from_light(display_light(log, LOG))
    low, high = np.quantile(shown.min(axis=-1), 0.01), np.quantile(shown.max(axis=-1), 0.99)
    return np.clip((shown - low) / (high - low), 0.0, 1.0)


def test_no_false_alarm(still: tuple[str, np.ndarray]) -> None:
    _, log = still
    scene, light = LOG.to_scene(log), display_light(log, LOG)
    assert findings(log, LOG) == []
    for stops in (-2.0, 2.0):
        assert kinds(ten_bit(LOG.from_scene(scene * 2.0**stops)), "ACEScct") == []
    for camera in ("S-Log3", "LogC3", "V-Log"):
        assert kinds(ten_bit(Signal.named(camera).from_scene(scene)), camera) == []
    for display in ("BT.1886", "sRGB", "PQ", "HLG"):
        assert kinds(ten_bit(Signal.named(display).from_light(light)), display) == []
    legal = from_full(np.clip(Signal.named("BT.1886").from_light(light), 0, 1), "legal")
    assert kinds(ten_bit(legal), "BT.1886", "legal") == []
    legal_log = Signal.named("ACEScct", range="legal")
    assert kinds(ten_bit(legal_log.from_scene(scene)), "ACEScct", "legal") == []
    assert kinds(scene, "ACEScg") == []


def test_display_picture_fed_to_a_log_source(still: tuple[str, np.ndarray]) -> None:
    light = display_light(still[1], LOG)
    for display in ("BT.1886", "sRGB"):
        for log in ("ACEScct", "S-Log3"):
            found = findings(ten_bit(Signal.named(display).from_light(light)), Signal.named(log))
            assert [f.reads_like for f in found] == ["display"] and found[0].weight == "likely"


def test_log_picture_declared_display(still: tuple[str, np.ndarray]) -> None:
    scene = LOG.to_scene(still[1])
    for display in ("BT.1886", "sRGB"):
        assert kinds(still[1], display) == ["log"]
        assert kinds(ten_bit(Signal.named("V-Log").from_scene(scene)), display) == ["log"]


def test_linear_declared_otherwise(still: tuple[str, np.ndarray]) -> None:
    scene = LOG.to_scene(still[1])
    assert kinds(scene, "ACEScct") == ["linear"]
    assert kinds(scene, "BT.1886") == ["linear"]
    assert kinds(np.clip(scene, 0, 1), "BT.1886") == ["linear"]


def test_encoded_declared_linear(still: tuple[str, np.ndarray]) -> None:
    assert kinds(still[1], "ACEScg") == ["encoded"]
    assert kinds(ten_bit(finished(still[1])), "ACEScg") == ["encoded"]
    assert kinds(ten_bit(Signal.named("BT.1886").from_light(display_light(still[1], LOG))), "ACEScg") == ["encoded"]


@pytest.mark.parametrize("look", ["everyday-daylight", "night-workshop", "overcast"])
def test_a_looks_picture_declared_linear(still: tuple[str, np.ndarray], look: str) -> None:
    name, log = still
    shown = compile_look(read_look(LOOKS / f"{look}.toml"))(log)
    # With the contrast of a film print the dark insert reaches as far down as light does: the limit stated below.
    expected = [] if name == "insert" and look != "everyday-daylight" else ["encoded"]
    assert kinds(ten_bit(shown), "ACEScg") == expected


def test_fine_steps_of_a_dark_display_picture_leave_no_sign(still: tuple[str, np.ndarray]) -> None:
    # The stated limit. Wide and insert reach from deep shadow to lamps: their codes span 7 to 9 doublings, skewness 0.9
    # and 1.5, as the light of a well lit scene may (scikit-image's "motorcycle" decoded: 8.0 and 0.9; "coffee": 8.5 and
    # 1.5), and in 16 bits nothing else speaks. The others span less than 5.
    name, log = still
    shown = np.clip(Signal.named("BT.1886").from_light(display_light(log, LOG)), 0.0, 1.0)
    expected = [] if name in ("wide", "insert") else ["encoded"]
    assert kinds(np.rint(shown * 65535.0) / 65535.0, "ACEScg") == expected


def test_light_decoded_from_coarse_steps_is_left_in_peace(still: tuple[str, np.ndarray]) -> None:
    # As few values as a 10-bit file has, but unevenly spaced. Brightened, so that skewness alone clears two only.
    codes = ten_bit(finished(still[1]) ** 0.6)
    assert even_steps(codes) == "10-bit"
    light = codes**2.4
    assert len(np.unique(light)) <= 1024 and even_steps(light) == ""
    assert kinds(light, "ACEScg") == []


def test_a_foreign_photograph_against_its_own_light() -> None:
    # 8-bit sRGB that none of our curves made: the public-domain portrait that comes with Matplotlib.
    with cbook.get_sample_data("grace_hopper.jpg") as file:
        photograph = np.asarray(Image.open(file).convert("RGB"), np.float64) / 255.0
    light = colour.cctf_decoding(photograph, "sRGB")
    assert kinds(photograph, "ACEScg") == ["encoded"]
    assert kinds(light, "ACEScg") == [] and kinds(light.astype(np.float16), "ACEScg") == []


@pytest.mark.parametrize("bits", [8, 10])
def test_even_steps_in_files_of_16_bits(bits: int) -> None:
    codes = np.random.default_rng(1).integers(0, 2**bits, (40, 3))
    spare = 16 - bits
    low_bits_zero, repeated = codes << spare, (codes << spare) | (codes >> (2 * bits - 16))
    for stored in (low_bits_zero, repeated):
        assert even_steps((stored / 65535.0).astype(np.float32).astype(np.float64)) == f"{bits}-bit"
    assert even_steps((codes * 1.01) / (2**bits - 1)) == ""  # scaled, as by a change of exposure
    assert even_steps(codes[:5] / (2**bits - 1)) == ""  # too few different codes to tell


def test_legal_against_full(still: tuple[str, np.ndarray]) -> None:
    full = finished(still[1])
    # A picture without any clipped black or white leaves no sign of its range.
    assert ((full.min(axis=-1) <= 0.0) | (full.max(axis=-1) >= 1.0)).mean() > 5e-4
    assert kinds(ten_bit(from_full(full, "legal")), "BT.1886") == ["legal range"]
    assert kinds(ten_bit(full), "BT.1886", "legal") == ["full range"]


def test_range_without_black_or_white_leaves_no_sign(still: tuple[str, np.ndarray]) -> None:
    # The stated limit, so that nobody relies on more: the middle of the range reads the same either way.
    full = 0.15 + 0.6 * finished(still[1])
    assert kinds(ten_bit(full), "BT.1886", "legal") == []


def test_legal_log_with_black_in_it() -> None:
    scene = LOG.to_scene(read(SAMPLES / "wide_acescct.png").pixels[::3, ::3].astype(np.float64))
    legal = ten_bit(Signal.named("ACEScct", range="legal").from_scene(scene))
    assert kinds(legal, "ACEScct") == ["legal range"]
    full = ten_bit(LOG.from_scene(scene))
    assert kinds(full, "ACEScct", "legal") == ["full range"]


def test_log_with_a_lower_black_than_declared() -> None:
    # Black of ACEScct is 0.0729, of this camera log 0.0929 (published formulas).
    wide = read(SAMPLES / "wide_acescct.png").pixels[::3, ::3]
    assert kinds(wide, "S-Log3") == ["another log curve"]


def test_uniform_frames_raise_no_alarm() -> None:
    for value in (0.2, 0.4136, 0.6):
        for name in ("ACEScct", "BT.1886", "ACEScg", "HLG"):
            assert kinds(np.full((20, 20, 3), value), name) == []
