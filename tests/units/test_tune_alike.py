"""Of parameters that do the same to the greys one moves; a separation is not met by exposure."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.look.steps import registry
from lookwright.look.steps.numbers import numbers, with_value
from lookwright.pictures.stills import Mark
from lookwright.solve.tune.alike import held_back
from lookwright.solve.tune.free import free_parameters
from lookwright.solve.tune.gather import Wishes

HEAD = '[source]\nencoding = "ACEScct"\n[output]\nencoding = "BT.1886"\n'
STEPS = ("exposure", "contrast", "saturation", "print")
LEVELS = Wishes(stills=(Path("a.png"),), levels={"wall": 45.0})
SEPARATION = Wishes(stills=(Path("a.png"),), separation=150.0)


def held(wishes: Wishes, *kinds: str, lock: tuple[str, ...] = (), free: tuple[str, ...] = ()) -> dict[str, str]:
    look = parse_look(HEAD + "".join(f'[[step]]\nkind = "{kind}"\n' for kind in kinds))
    return held_back(free_parameters(look, lock, free), free, wishes)


def test_one_of_each_pair_moves_and_the_other_names_it() -> None:
    assert held(LEVELS, *STEPS) == {
        "print.grey_density": "for exposure.stops",
        "print.negative_gamma": "for contrast.slope",
        "print.print_gamma": "for contrast.slope",
    }
    assert list(held(LEVELS, "exposure", "contrast", "render")) == ["render.grey", "render.slope"]
    assert held(LEVELS, "saturation", "print") == {"print.negative_gamma": "for print.print_gamma"}
    assert held(LEVELS, "exposure", "exposure", "render") == {
        "exposure[2].stops": "for exposure[1].stops",
        "render.grey": "for exposure[1].stops",
    }


def test_a_lock_on_one_lets_the_other_move_and_free_releases() -> None:
    assert "print.grey_density" not in held(LEVELS, *STEPS, lock=("exposure",))
    assert "print.grey_density" not in held(LEVELS, *STEPS, free=("print.grey_density",))
    assert held(LEVELS, *STEPS, free=("print",)) == {}


def test_whole_frames_tell_them_apart() -> None:
    assert held(Wishes(stills=LEVELS.stills, references=(Path("b.png"),), levels=LEVELS.levels), *STEPS) == {}
    assert held(Wishes(pairs=((Path("a.png"), Path("b.png")),)), *STEPS) == {}


def test_separation_alone_holds_all_that_sets_the_level() -> None:
    why = "not for a separation"
    assert {n: w for n, w in held(SEPARATION, *STEPS).items() if "gamma" not in n} == {
        "exposure.stops": why,
        "print.grey_density": why,
    }
    marked = Wishes(stills=SEPARATION.stills, separation=150.0, marks={"a": [Mark("wall", (0, 0, 1, 1), level=45.0)]})
    assert "exposure.stops" not in held(marked, *STEPS)
    assert held(SEPARATION, "exposure", "gamut") == {}, "with nothing else to move, it may"


@pytest.mark.parametrize("kind", ["exposure", "contrast", "render", "print"])
def test_what_is_declared_is_what_it_does(kind: str) -> None:
    """``level`` moves where grey lands; ``slope`` leaves grey and moves the level two stops over it, or under."""
    render = "" if kind in ("render", "print") else '[[step]]\nkind = "render"\n'
    look = parse_look(f'{HEAD}[[step]]\nkind = "{kind}"\n{render}')
    source = look.source.signal()
    codes = source.from_scene(0.18 * np.array([[1.0], [4.0]]) * np.ones(3))
    plain = compile_look(look)(codes)[:, 1]
    declared = [n for n in numbers(registry()[kind](kind=kind)) if n.info.acts_on]
    assert declared
    for n in declared:
        more = with_value(look.steps[0], n.path, n.value + 0.1 * (n.info.soft_high - n.info.soft_low))
        grey, over = compile_look(look.model_copy(update={"steps": (more, *look.steps[1:])}))(codes)[:, 1] - plain
        if n.info.acts_on == "level":
            assert abs(grey) > 0.01, n.lock_name
        else:
            assert abs(grey) < 1e-3 and over > 0.005, n.lock_name
