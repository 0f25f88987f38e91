"""Renderings to hold against each other: those of the program, those it had before, and ACES 2 of OpenColorIO."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lookwright.colour.film.filmset import FilmSet
from lookwright.colour.film.layers import log_exposure
from lookwright.colour.film.model import GREY, FilmPrint
from lookwright.colour.film.neutral import NeutralScale
from lookwright.colour.film.printing import base_light
from lookwright.colour.film.sensitometry import Curve
from lookwright.colour.spaces.primaries import matrix, primaries
from lookwright.colour.spaces.signal import Signal
from lookwright.colour.tone import ToneCurve
from lookwright.look.steps import registry
from lookwright.look.steps.base import Context
from lookwright.look.steps.gamut import Gamut

Array = NDArray[np.float64]


def step(kind: str, output: str = "BT.1886", **values: float):
    """A rendering step of the program as a function of scene light."""
    context = Context(Signal.named("ACEScct"), Signal.named(output))
    return registry()[kind](kind=kind, **values).prepare(context)


def _fitted(render):
    """With the step ``gamut`` behind it, as the former renderings had."""
    fit = Gamut().prepare(Context(Signal.named("ACEScct"), Signal.named("BT.1886")))
    return lambda scene: fit(render(np.asarray(scene, np.float64)))


def former_plain():
    """The plain rendering before it kept hue: one curve on each channel of ACEScg, grey at 42 %."""
    curve = ToneCurve(0.42**2.4, 1.15, 1.6, 6.0, 0.0, 1.0)
    to_display = matrix("ACEScg", "BT.2020").T

    def render(scene: Array) -> Array:
        return np.copysign(curve(np.abs(scene)), scene) @ to_display

    return _fitted(render)


FORMER_SET = FilmSet(
    sensitivity=((0.04, 0.017), (0.04, 0.052), (0.04, 0.052)),
    coupling=((-0.4, 0.0), (-0.4, -0.072), (0.0, -0.166)),
    centres=(652.9, 539.5, 451.4),
    short=(45.0, 33.4, 45.4),
    long=(74.6, 32.0, 30.0),
    sides=((0.02, 0.024), (0.02, 0.053), (0.02, 0.02)),
)


class FormerFilm(FilmPrint):
    """The film with the set and the curves it had before."""

    def __init__(self) -> None:
        super().__init__(chosen=FORMER_SET)
        p = self.params
        foot = float(np.log10(GREY)) - 1.1 / p.negative_gamma
        self.negative = Curve(p.negative_gamma, 2.9, foot=foot, toe=0.5 * p.toe, shoulder=0.5 * p.shoulder)
        self.print = Curve(p.print_gamma, p.density_max, toe=p.shoulder, shoulder=p.toe)
        self.base = base_light(float(self.negative(log_exposure(GREY))), p.grey_density, self.print)
        self.lights = self.base + np.zeros(3)
        self.neutral = NeutralScale.solve(self.print.span, self.bands, self.seen)


def former_print():
    """The print before its lights went to clear film (through the quadrature of today, which fits both sets)."""
    return _fitted(FormerFilm())


def aces2(name: str = "SDR-100nit-REC709_2.0", output: str = "BT.709", unit: float = 1.0, peak: float = 1.0):
    """ACES 2 as OpenColorIO's built-in transform computes it (float32); ``unit`` scales its light of 100 cd/m2."""
    import PyOpenColorIO as ocio

    group = ocio.GroupTransform()
    group.appendTransform(ocio.BuiltinTransform(f"ACES-OUTPUT - ACES2065-1_to_CIE-XYZ-D65 - {name}"))
    cpu = ocio.Config.CreateRaw().getProcessor(group).getDefaultCPUProcessor()
    to_ap0 = (np.linalg.inv(primaries("ACES2065-1").to_xyz) @ primaries("ACEScg").to_xyz).T
    to_output, back = np.linalg.inv(primaries(output).to_xyz).T, matrix(output, "BT.2020").T

    def render(scene: Array) -> Array:
        x = np.ascontiguousarray(np.asarray(scene, np.float64).reshape(-1, 3) @ to_ap0, dtype=np.float32)
        cpu.applyRGB(x)
        rgb = np.clip(x.astype(float) * unit @ to_output, 0.0, peak)
        return (rgb @ back).reshape(np.shape(scene))

    return render


def aces2_hdr():
    """ACES 2 for 1000 cd/m2 in BT.2020, 1 = 203 cd/m2."""
    return aces2("HDR-1000nit-REC2020_2.0", "BT.2020", 100.0 / 203.0, 1000.0 / 203.0)
