"""Restraint as a barrier: the measures of ``check`` themselves, pressing from well before they would fail.

Nothing here defines harm or holds a limit; a measure added to ``restraint`` becomes a barrier by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..look.model import Look
from ..restraint.check import MEASUREMENTS
from ..restraint.clipping import clipping
from ..restraint.folds import hue_order
from ..restraint.limits import BY_NAME
from ..restraint.neutrals import CARD, neutrals
from ..restraint.noise import SHADOWS, noise
from ..restraint.skin import skin
from ..restraint.stills import Stills
from ..restraint.subject import Subject, subject_of_look
from ..restraint.tone import tone
from ..restraint.values import Measured
from ..stills import Still

Array = NDArray[np.float64]
Measurement = Callable[[Subject], Measured]

ALWAYS: tuple[Measurement, ...] = (skin, neutrals, tone, noise, clipping, hue_order)
"""Measured at every step of the solver. The others (folds, roughness, the stills themselves) ask for many more colours;
they are measured when a solution is found, and join the barrier when they fail."""

FROM = 0.95
"""Harm from which the barrier presses: just under the failing limit (1). What is asked for up to there is allowed."""
FULL = 0.05
"""Harm beyond :data:`FROM` that costs as much as one just visible difference over all data: at the failing limit."""
NEAR = 0.7
"""Harm from which a measure's slopes are worked out, so that the solver sees the limit before it runs into it."""


class Barrier:
    """Residuals of restraint for one look.

    Parameters
    ----------
    look
        The look as it starts; it names own limits and the plain rendering that measures compare with.
    stills
        (name, (n, 3) sampled code values) of stills, for the measures of clipping on pictures.
    """

    def __init__(self, look: Look, weight: float = 1.0, stills: Sequence[tuple[Path, Array]] = ()) -> None:
        subject = subject_of_look(look)
        # The plain rendering and the feed do not depend on creative parameters, and each measure asks for the same
        # colours each time.
        values = {f.name: getattr(subject, f.name) for f in fields(subject)}
        self.subject = _Remembering(**{**values, "plain": _remembered(subject.plain)})
        object.__setattr__(self.subject, "fed", _remembered(subject.feed))
        self.weight = weight
        self.measurements: list[Measurement] = list(ALWAYS)
        self.every: tuple[Measurement, ...] = (*MEASUREMENTS, *([_on_stills(stills)] if stills else []))
        self._limits = {n: limit.value for n, limit in look.limits.items()}

    def join(self, measurements: Sequence[Measurement]) -> bool:
        """Watch these at every step from now on; whether any is new."""
        new = [m for m in measurements if m not in self.measurements]
        self.measurements += new
        return bool(new)

    def harm(self, function: Callable[[Array], Array], which: Sequence[Measurement]) -> dict[str, float]:
        """Measure by name to harm (0 none, 1 the failing limit)."""
        subject = replace(self.subject, graded=function)
        object.__setattr__(subject, "fed", self.subject.fed)
        found: dict[str, float] = {}
        for measurement in which:
            for value in measurement(subject).values:
                found[value.measure] = BY_NAME[value.measure].harm(value.value, self._limits.get(value.measure))
        return found

    def measure(self, function: Callable[[Array], Array]) -> list[Array]:
        """Harm of each measure, in one array for each of :attr:`measurements`."""
        return [self.of(function, m) for m in self.measurements]

    def of(self, function: Callable[[Array], Array], measurement: Measurement) -> Array:
        """Harm of the measures of one measurement, and of the places behind them where it tells them.

        A measure is the worst of many places. A step that knows only the present worst runs into the next one.
        """
        subject = replace(self.subject, graded=function)
        object.__setattr__(subject, "fed", self.subject.fed)
        measured = measurement(subject)
        found = [self._harm(v.measure, np.array([v.value])) for v in measured.values]
        for name, values in _places(measured):
            found.append(self._harm(name, values))
        return np.concatenate(found)

    def _harm(self, name: str, values: Array) -> Array:
        """:meth:`Measure.harm` for many values."""
        measure = BY_NAME[name]
        limit = self._limits.get(name, measure.fail)
        watch = measure.watch_for(limit)
        first = (values - measure.ideal) / (watch - measure.ideal)
        return np.where(first <= 1.0, np.maximum(0.0, 0.5 * first), 0.5 + 0.5 * (values - watch) / (limit - watch))

    def all_harm(self, function: Callable[[Array], Array]) -> dict[str, float]:
        """Every measure of the check, to its harm."""
        return self.harm(function, self.every)

    def measurements_of(self, names: Sequence[str], function: Callable[[Array], Array]) -> list[Measurement]:
        """Which measurements give these measures."""
        return [m for m in self.every if set(self.harm(function, [m])) & set(names)]


def all_harm(look: Look) -> dict[str, float]:
    """Every measure of ``check`` on a look, to its harm."""
    subject = subject_of_look(look)
    limits = {n: limit.value for n, limit in look.limits.items()}
    values = [v for measurement in MEASUREMENTS for v in measurement(subject).values]
    return {v.measure: BY_NAME[v.measure].harm(v.value, limits.get(v.measure)) for v in values}


def _places(measured: Measured) -> Iterator[tuple[str, Array]]:
    """(measure, its values place by place) from the curves that measurements hand over for plots."""
    if "noise" in measured.plots:
        plot = measured.plots["noise"]
        dark = plot["stops"] <= SHADOWS
        yield "noise", plot["worst"][~dark]
        yield "shadow_noise", plot["worst"][dark]
    if "neutrals" in measured.plots:
        plot = measured.plots["neutrals"]
        size = np.hypot(plot["along"], plot["across"])
        by_name = {v.measure: v.value for v in measured.values}
        for name, near in (("grey_card_tint", np.abs(plot["stops"]) <= CARD + 1e-9), ("grey_tint", size >= 0.0)):
            # The curve is in CIELAB, the measure in CIEDE2000: brought to one scale where the measure was found.
            worst = max(float(size[near].max()), 1e-9)
            yield name, size[near][::5] * by_name[name] / worst


class _Remembering(Subject):
    """A subject that knows the code values of scenes it was asked for before."""

    fed: Callable[[Array], Array]

    def feed(self, scene: Array) -> Array:
        return self.fed(np.asarray(scene, np.float64))


def _on_stills(stills: Sequence[tuple[Path, Array]]) -> Measurement:
    """The measures of clipping on pictures, on sampled pixels; skin marks are a goal's matter, not measured here."""
    pictures = [Still(np.asarray(codes, np.float32)[None], None, "float", path) for path, codes in stills]

    def on_stills(subject: Subject) -> Measured:
        gathered = Stills()
        seen = replace(subject, graded_picture=_as_picture(subject.graded), plain_picture=_as_picture(subject.plain))
        for still in pictures:
            gathered.add(seen, still, [])
        return Measured(list(gathered.worst.values()))

    return on_stills


def _as_picture(function: Callable[[Array], Array]) -> Callable[[NDArray[np.float32]], NDArray[np.float32]]:
    return lambda pixels: np.asarray(function(np.asarray(pixels, np.float64)), np.float32)


def _remembered(plain: Callable[[Array], Array]) -> Callable[[Array], Array]:
    known: dict[tuple[tuple[int, ...], bytes], Array] = {}

    def apply(code: Array) -> Array:
        key = (code.shape, code.tobytes())
        if key not in known:
            known[key] = plain(code)
        return known[key]

    return apply
