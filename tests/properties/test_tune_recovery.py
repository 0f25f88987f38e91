"""Looks found again from pictures that were made with them; stated uncertainties that hold the truth.

A small form of tests/benchmarks/tune_recovery.py, whose figures for twenty looks are in the documentation.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from lookwright.assess.restraint.limits import BY_NAME
from lookwright.colour.difference import ciede2000, xyz_to_lab
from lookwright.colour.spaces.primaries import primaries
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.pictures.stills import read, write
from lookwright.solve.tune.barrier import all_harm
from lookwright.solve.tune.free import free_parameters, with_values
from lookwright.solve.tune.gather import Wishes
from lookwright.solve.tune.run import Outcome, tune

SAMPLES = Path(__file__).parents[2] / "sample_images"

START = """\
[source]
encoding = "ACEScct"
[output]
encoding = "BT.1886"
[[step]]
kind = "exposure"
[[step]]
kind = "balance"
[[step]]
kind = "contrast"
lock = ["pivot"]
[[step]]
kind = "split"
[[step]]
kind = "saturation"
[[step]]
kind = "render"
[[step]]
kind = "gamut"
"""

# Within their usual ranges; every one passes the check.
TRUTHS = {
    "evening": {
        "exposure.stops": -0.3,
        "balance.mired": 8.0,
        "contrast.slope": 1.15,
        "split.pull": 0.2,
        "split.cool_shadows": 0.008,
        "saturation.amount": 1.1,
        "render.slope": 1.05,
    },
    "morning": {
        "exposure.stops": 0.25,
        "balance.mired": -6.0,
        "balance.tint": 0.002,
        "split.warm_highlights": 0.006,
        "saturation.amount": 0.9,
        "saturation.density": 0.2,
        "render.white": 8.5,
    },
}


@pytest.fixture(scope="module")
def stills(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Three sample stills, every eighth pixel."""
    folder = tmp_path_factory.mktemp("recovery")
    for name in ("wide", "close", "day"):
        write(folder / f"{name}.png", read(SAMPLES / f"{name}_acescct.png").pixels[4::8, 4::8].copy(), depth="16")
    return sorted(folder.glob("*.png"))


def found_again(name: str, stills: list[Path], goal: str) -> tuple[Outcome, dict[str, float], float]:
    """The outcome, the true values, and the mean CIEDE2000 over every pixel."""
    start = parse_look(START)
    free = free_parameters(start)
    z = np.array([f.z(TRUTHS[name].get(f.name, f.start)) for f in free])
    truth = with_values(start, free, z)
    assert all(h <= 1.0 for n, h in all_harm(truth).items() if n in BY_NAME)
    pipeline = compile_look(truth)
    graded = []
    for path in stills:
        target = path.parent / f"{name}-{path.stem}.tif"
        write(target, pipeline(read(path).pixels.astype(float)).astype(np.float32), depth="16")
        graded.append(target)
    if goal == "pairs":
        wishes = Wishes(pairs=tuple(zip(stills, graded, strict=True)))
    else:
        wishes = Wishes(stills=tuple(stills), references=tuple(graded))
    outcome = tune(start, wishes)
    again = compile_look(outcome.look)
    codes = np.concatenate([read(p).pixels.reshape(-1, 3) for p in stills]).astype(float)
    xyz = primaries("BT.2020").to_xyz.T
    one, two = (xyz_to_lab(p.output.to_light(p(codes)) @ xyz) for p in (pipeline, again))
    values = {f.name: f.value(float(at)) for f, at in zip(free, z, strict=True)}
    return outcome, values, float(ciede2000(one, two).mean())


@pytest.mark.parametrize(
    ("name", "goal", "most"), [("evening", "pairs", 0.3), ("morning", "pairs", 0.3), ("evening", "reference", 0.5)]
)
def test_pictures_lead_back_to_their_look(name: str, stills: list[Path], goal: str, most: float) -> None:
    """Within the medians asked for over twenty looks: CIEDE2000 of 0.3 from pairs, 0.5 from the stills unpaired."""
    outcome, truth, difference = found_again(name, stills, goal)
    assert outcome.goals[goal][0] > 1.2  # there was something to find
    assert difference <= most
    assert outcome.passes
    known = [c for c in outcome.changes if c.status in ("determined", "still")]
    outside = [c.name for c in known if c.uncertainty is None or abs(c.after - truth[c.name]) > c.uncertainty]
    assert len(outside) <= 0.1 * len(known), outside
    if goal == "pairs":
        assert len(known) >= 4
    # Whatever is on a bound says so, and nothing else does.
    for c, f in ((c, f) for c in outcome.changes for f in free_parameters(parse_look(START)) if f.name == c.name):
        touches = c.after != c.before and (abs(c.after - f.low) < 1e-9 or abs(c.after - f.high) < 1e-9)
        assert touches == (c.status == "bound") == bool(c.bound), c


def test_what_pictures_do_not_show_stays_and_is_named(stills: list[Path], tmp_path: Path) -> None:
    """Grey stills say nothing about colour: parameters of colour stay where they were."""
    greys = []
    for path in stills[:2]:
        grey = np.repeat(read(path).pixels.mean(axis=-1, keepdims=True), 3, axis=-1)
        greys.append(tmp_path / path.name)
        write(greys[-1], grey, depth="16")
    start = parse_look(START)
    free = free_parameters(start, lock=["balance", "split.cool_shadows", "split.warm_highlights"])
    # Darker: a look that passes the check, so that no limit asks colour to make room.
    truth = with_values(start, free, np.array([-0.15 if f.name == "exposure.stops" else 0.0 for f in free]))
    graded = []
    for path in greys:
        graded.append(path.with_suffix(".tif"))
        pixels = compile_look(truth)(read(path).pixels.astype(float))
        write(graded[-1], pixels.astype(np.float32), depth="16")
    outcome = tune(
        start,
        Wishes(pairs=tuple(zip(greys, graded, strict=True))),
        lock=["balance", "split.cool_shadows", "split.warm_highlights"],
    )
    by_name = {c.name: c for c in outcome.changes}
    for name in ("split.pull", "split.warm", "split.cool", "saturation.amount", "saturation.density"):
        assert by_name[name].status == "open" and by_name[name].after == by_name[name].before, by_name[name]
    stops = by_name["exposure.stops"]
    assert stops.after == pytest.approx(next(f for f in free if f.name == "exposure.stops").value(-0.15), abs=0.1)
