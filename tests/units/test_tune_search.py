"""What the tuner does beyond a plain descent, each shown by a problem that fails without it."""

from __future__ import annotations

from functools import partial
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from tune_toys import ToyBarrier, ToyGoal, ToyModel, toy

from lookwright.solve.tune import solver
from lookwright.solve.tune.goals import Levels, Target
from lookwright.solve.tune.hold import Hold
from lookwright.solve.tune.identify import UNKNOWN
from lookwright.solve.tune.problem import Problem
from lookwright.solve.tune.run import _Run
from lookwright.solve.tune.search import BY_DEGREES, SOFT_LIMITS, Search
from lookwright.solve.tune.solver import solve

WIDE = (-3.0, 3.0)


def test_a_curved_valley_is_followed_to_its_end() -> None:
    """Rosenbrock's function, whose least is 0 at (1, 1)."""
    valley = toy(lambda z: np.array([10.0 * (z[1] - z[0] ** 2), 1.0 - z[0]]), [WIDE, WIDE], ridge=1e-4, enough=1e-12)
    found = solve(valley, np.array([-1.2, 1.0]), most=60, tolerance=1e-3)
    np.testing.assert_allclose(found.z, [1.0, 1.0], atol=1e-2)
    costs = [valley.at(z).cost for z in found.path]
    assert costs == sorted(costs, reverse=True) and len(costs) > 5


def test_a_parameter_that_hardly_acts_where_it_stands_is_not_thrown_to_its_bound() -> None:
    """Where tanh is flat the quadratic model asks for a huge step; LONGEST holds it to where the slope still holds."""
    flat = toy(lambda z: np.array([np.tanh(3.0 * z[0]) - 0.9, 0.3 * z[1]]), [WIDE, WIDE], ridge=1e-3, enough=1e-12)
    found = solve(flat, np.array([-1.5, 1.0]), tolerance=1e-3)
    assert np.tanh(3.0 * found.z[0]) == pytest.approx(0.9, abs=1e-3)
    assert found.z[1] == pytest.approx(0.0, abs=1e-3)


def test_slopes_are_carried_on_while_they_predict_well(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three smooth residuals: with Broyden's update fewer variations than three for every step."""

    def run() -> tuple[int, float]:
        smooth = toy(
            lambda z: np.array([np.exp(z[0]) - 2.0, z[1] + 0.1 * z[0] ** 2 - 1.0, z[2] - 0.5 * np.sin(z[1])]),
            [WIDE] * 3,
            enough=1e-12,
        )
        found = solve(smooth, np.zeros(3), tolerance=1e-3)
        assert isinstance(smooth.model, ToyModel)
        return smooth.model.variations, found.cost

    carried = run()
    monkeypatch.setattr(solver, "SECANTS", 0)
    afresh = run()
    assert carried[0] < 0.7 * afresh[0]
    assert carried[1] == pytest.approx(afresh[1], rel=1e-3)


def test_a_step_sees_a_limit_before_it_runs_into_it() -> None:
    """Harm of 0.8 at the start is near, so its slope is known: the first step stops at the limit, in one evaluation."""
    near = toy(lambda z: 2.0 * (z - 1.0), [WIDE], {"level": lambda z: 0.8 + 0.5 * z[:1]}, enough=1e-12)
    found = solve(near, np.zeros(1), tolerance=0.05)
    assert near.barrier is not None
    assert 0.28 < found.path[1][0] < 0.34  # FROM is met at z = 0.3
    assert found.evaluations <= 4


def test_a_limit_that_was_not_in_sight_is_looked_at_once_it_is_met() -> None:
    """Harm rises from nothing (0.2 at the start) to over the limit within the first step."""
    hidden = toy(lambda z: 2.0 * (z - 0.3), [WIDE], {"level": lambda z: 0.2 + 4.0 * z[:1]}, enough=1e-12)
    found = solve(hidden, np.zeros(1), tolerance=0.05, most=4)
    assert 0.18 < found.z[0] < 0.2  # FROM is met at z = 0.1875


def test_limits_that_give_way_at_first_are_crossed() -> None:
    """A limit that fails about 0.6 stands between the start and a goal at 1.4 that passes."""

    def problem() -> Problem:
        harm = {"level": lambda z: 1.15 * np.exp(-(((z[:1] - 0.6) / 0.35) ** 2))}
        return toy(lambda z: 3.0 * (z - 1.4), [WIDE], harm, enough=1e-9)

    softly = Search(problem(), 1, 0).best(np.zeros(1))
    assert softly[0] == pytest.approx(1.4, abs=0.1)
    firmly = solve(problem(), np.zeros(1), most=40)
    assert firmly.z[0] < 0.5  # which is what SOFT_LIMITS = 1 would give


def test_what_is_crossed_unseen_is_watched_from_then_on() -> None:
    harm = {"level": lambda z: 2.0 * z[:1]}
    problem = toy(lambda z: 3.0 * (z - 1.4), [WIDE], harm, joined=False, enough=1e-9)
    z = Search(problem, 1, 0).best(np.zeros(1))
    assert problem.barrier is not None and problem.barrier.watched
    assert z[0] == pytest.approx(0.5, abs=0.05)  # where it would fail


def test_a_solution_is_never_further_from_what_was_wanted_than_the_start() -> None:
    """All that passes on the way lies behind the start: then what passes between the start and the goal."""
    harm = {"level": lambda z: np.where(z[:1] > 0.2, 9.0, 0.0)}
    search, hold, _ = held(harm, 1.0)
    search.path += [np.array([-2.0]), np.array([-1.0])]
    z = hold._last_passing(np.array([1.0]), [])
    assert 0.15 < z[0] <= 0.2


def two_wells(z: np.ndarray) -> np.ndarray:
    """Shallow at 0.4 (cost 1.4 squared), deep at -0.5."""
    near, far = 3.0 * abs(z[0] - 0.4) + 1.4, 3.0 * abs(z[0] + 0.5)
    return np.array([min(near, far)])


def test_another_start_is_tried_while_the_distance_is_high() -> None:
    def left(starts: int, seed: int) -> float:
        problem = toy(two_wells, [(-1.0, 1.0)], ridge=0.01)
        problem.goals[0].name = "pairs"
        search = Search(problem, starts, seed)
        z = search.best(np.array([0.4]))
        return float(abs(two_wells(z)[0]))

    assert all(left(1, seed) > 1.3 for seed in range(8))
    assert sum(left(6, seed) < 0.3 for seed in range(8)) >= 3  # half of the places lie on the other side


def test_the_ridge_follows_what_the_goals_leave() -> None:
    """The better the fit turns out, the less the pull toward the start: it ends at the goal's own floor."""
    fits = toy(lambda z: np.array([6.0 * (z[0] - 0.8), 6.0 * (z[0] + 0.2 * z[1] - 0.9)]), [WIDE, WIDE])
    Search(fits, 1, 0).best(np.zeros(2))
    near = fits.ridge
    never = toy(lambda z: np.array([6.0 * (z[0] - 0.8), 5.0 + 0.0 * z[1]]), [WIDE, WIDE])
    Search(never, 1, 0).best(np.zeros(2))
    floor = ToyGoal.floor / np.sqrt(ToyGoal.pieces) / UNKNOWN
    assert floor <= near < 2.0 * floor
    assert never.ridge > 3.0 * near


def held(measures: dict, goal: float, **options: float) -> tuple[Search, Hold, ToyBarrier]:
    """A search toward ``goal`` under measures that are not watched until they fail."""
    problem = toy(lambda z: 3.0 * (z - goal), [WIDE], measures, joined=False, enough=1e-9, **options)
    barrier = problem.barrier
    assert isinstance(barrier, ToyBarrier)
    search = Search(problem, 1, 0)
    return search, Hold(search, barrier, barrier.all_harm(np.zeros(1))), barrier  # type: ignore[arg-type]


def test_a_measure_that_was_not_watched_joins_when_it_fails() -> None:
    search, hold, barrier = held({"fold": lambda z: np.array([1.5 * z[0]])}, 1.0)
    z = hold.passing(search.best(np.zeros(1)), [])
    assert barrier.joined == ["fold"]
    assert 0.6 < z[0] <= 1.0 / 1.5  # next to the limit, not back at the start


def test_where_nothing_mends_it_the_last_place_on_the_way_that_passes_is_taken() -> None:
    """A count that jumps has no slope: solving again leaves it as it is."""
    search, hold, _ = held({"crossings": lambda z: np.array([2.0 if z[0] > 0.61 else 0.0])}, 1.0)
    search.path.append(np.zeros(1))
    z = hold.passing(search.best(np.zeros(1)), [])
    assert not hold.worse(z)
    assert 0.5 < z[0] <= 0.61


def test_what_passes_and_leaves_more_than_the_start_is_no_solution() -> None:
    """Brought back to the limits from far outside, a search can end behind where it began."""
    search, hold, _ = held({"crossings": lambda z: np.array([2.0 if z[0] > 0.61 else 0.0])}, 1.0)
    behind = np.array([-0.5])
    assert not hold.worse(behind)
    assert hold.passing(behind, [])[0] == 0.0
    search.path.append(np.array([0.4]))
    assert hold.passing(behind, [])[0] >= 0.4


@pytest.mark.parametrize("first", [0.0, 0.9])
def test_where_the_way_back_came_to_nothing_a_second_goes_by_degrees(first: float) -> None:
    def best(zero: np.ndarray, soft: object = SOFT_LIMITS) -> np.ndarray:
        asked.append(soft)
        return zero + (0.7 if soft is BY_DEGREES else first)

    asked: list[object] = []
    search, hold, barrier = held({}, 1.0)
    run = SimpleNamespace(
        barrier=barrier,
        search=SimpleNamespace(best=best, stopped=False),
        problem=search.problem,
        wishes=SimpleNamespace(references=["frame.png"]),
    )
    run._left = partial(_Run._left, run)
    assert _Run._passing(run, np.zeros(1), hold)[0] == (first or 0.7)  # type: ignore[arg-type]
    assert asked == ([SOFT_LIMITS] if first else [SOFT_LIMITS, BY_DEGREES])


def test_what_failed_at_the_start_may_fail_as_much() -> None:
    hold = held({"noise": lambda z: np.array([1.4 - 0.1 * z[0]])}, 1.0)[1]
    assert hold.passing(np.array([0.9]), []) == pytest.approx(0.9)
    assert hold.worse(np.array([-0.5]))


def test_rounding_that_would_fail_keeps_more_digits() -> None:
    """A limit between 0.123456 and its rounding to a five-thousandth of the range."""
    _, hold, barrier = held({"stretch": lambda z: np.array([0.9 if z[0] < 0.12348 else 1.2])}, 0.123456)
    f = hold._model.free[0]
    f.info = SimpleNamespace(soft_low=0.0, soft_high=5.0)  # rounded to three digits: 0.123
    f.start, z = 0.0, np.array([0.123456])
    assert hold.tidied(z)[0] == pytest.approx(0.123)
    barrier.measures["stretch"] = lambda z: np.array([0.9 if 0.1234 < z[0] < 0.1236 else 1.2])
    assert hold.tidied(z)[0] == pytest.approx(0.12346)


class ToyLevels(Levels):
    """One level, which is 100 z."""

    def levels(self, seen: Any) -> np.ndarray:
        return 100.0 * seen.z[:1]


def test_a_level_that_can_be_met_is_insisted_on() -> None:
    """Beside a goal that wants things to stay, a level ends 4 % off; it was wanted, so it comes to weigh more."""
    problem = toy(lambda z: 30.0 * z, [WIDE], ridge=0.01)
    target = Target("a", "wall", 30.0, slice(0, 1))
    levels = ToyLevels(slice(0, 1), None, (target,))  # type: ignore[arg-type]
    problem.goals = [*problem.goals, levels]
    search = Search(problem, 1, 0)
    z = search.solve(np.zeros(1))
    assert not target.met(100.0 * z[0])
    assert target.met(100.0 * search.insist(z, levels)[0])
    # Where it cannot be met, its weight is what it was.
    levels.weight, levels.targets = 1.0, (Target("a", "wall", 900.0, slice(0, 1)),)
    search.insist(z, levels)
    assert levels.weight == 1.0


def test_of_two_that_do_the_same_one_goes_back_and_the_other_follows() -> None:
    twins = toy(lambda z: np.array([6.0 * (z[0] + z[1] - 0.4), 6.0 * (z[2] - 0.3), 0.3]), [WIDE] * 3, ridge=0.05)
    search = Search(twins, 1, 0)
    z, back = search.put_back(search.solve(np.zeros(3)))
    assert len(back) == 1 and back[0] in (0, 1)
    assert z[back[0]] == 0.0
    assert z[1 - back[0]] == pytest.approx(0.4, abs=0.01)
    assert z[2] == pytest.approx(0.3, abs=0.01)
