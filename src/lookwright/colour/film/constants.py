"""The fitted film set and the folded observer. Written by ``lookwright.colour.film.choose``.

Before: mean |turn|: patches 12.65, skin 17.59 (worst 20.45) deg; mean ratio: C 0.68, C/L 0.79
After:  mean |turn|: patches 1.62, skin 1.13 (worst 2.00) deg; mean ratio: C 0.86, C/L 0.98
On their bounds: 16 of 27 numbers (sensitivity 0 low, sensitivity 2 low, sensitivity 4 high, coupling 0 low,
coupling 1 high, coupling 2 low, coupling 4 high, short 0 low, short 2 high, long 1 low, long 2 low, sides 0
low, sides 2 low, sides 3 low, sides 4 low, sides 5 low).
Quadrature: 24 wavelengths, worst error 0.06 % of (value + 1 % of white)
over dye amounts 0..9, lamps 2800..7500 K and the whole range of finish.
"""

from __future__ import annotations

from .filmset import FilmSet

CHOSEN = FilmSet(
    sensitivity=((0.04, 0.021), (0.04, 0.083), (0.04, 0.112)),
    coupling=((-0.4, 0.0), (-0.4, -0.17), (0.0, -0.151)),
    centres=(645.0, 541.2, 459.4),
    short=(45.0, 36.4, 55.0),
    long=(71.0, 32.0, 30.0),
    sides=((0.02, 0.037), (0.02, 0.02), (0.02, 0.02)),
)

WAVELENGTH = (
    392.24,
    405.63,
    413.26,
    421.79,
    430.85,
    440.91,
    452.14,
    464.27,
    477.56,
    492.92,
    509.86,
    526.36,
    542.51,
    558.65,
    574.67,
    590.45,
    605.90,
    620.99,
    635.84,
    650.42,
    664.72,
    692.22,
    704.96,
    749.74,
)
"""Quadrature wavelengths in nm."""

WEIGHTS = (
    (0.1311520238, 0.003701456491, 0.6143288897),
    (0, 0.01292564353, 0),
    (1.010461048, 0, 4.943922877),
    (0.7832478719, 0, 3.445114957),
    (3.407492187, 0.2777397521, 17.05815429),
    (3.238647573, 0.04770296682, 16.05430662),
    (4.177299996, 0.6582432299, 22.37465312),
    (3.053359292, 0.8046522897, 18.55811502),
    (1.74269928, 1.820724874, 13.44753782),
    (0.3029298892, 3.884620856, 6.395021912),
    (0.1878723538, 8.44851071, 2.751397885),
    (1.972448243, 13.23520804, 0.7707035969),
    (5.291343828, 15.59905088, 0.3450898668),
    (9.157559662, 16.08451719, 0.00594398526),
    (13.3739135, 14.60190279, 0.06541558376),
    (16.05378699, 11.75288517, 0.003357438968),
    (15.94058826, 8.478514327, 0.01374896172),
    (12.30133957, 5.499422412, 0),
    (8.087210159, 3.093842872, 0.0007469649797),
    (3.34410611, 1.42801923, 0.0001625948107),
    (2.647940057, 0.8737885593, 0),
    (0.4341748976, 0.1880234768, 0),
    (0.1979277573, 0.05900134497, 0),
    (0.01845620831, 0.006862255592, 4.364086445e-05),
)
"""Weights of x-bar, y-bar, z-bar (CIE 1931 2 degree) at those wavelengths, solved, not tabulated."""
