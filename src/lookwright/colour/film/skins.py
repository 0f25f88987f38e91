"""Measured skin: 17 of the 100 people of the NIST reference data set of human skin reflectance, darkest to lightest.

C. C. Cooksey, D. W. Allen, B. K. Tsai, "Reference Data Set of Human Skin Reflectance", J. Res. NIST 122:26 (2017), data
doi 10.18434/M38597, a work of the United States government and free of copyright there. The column "Average" (three
readings of the inside of the forearm) of each person at 14 of its wavelengths; between them a shape-preserving cubic,
since the readings lie closest where haemoglobin makes its W. The ends are held.
"""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.library import colour_library

from .lamps import observed, to_scene

LIGHTS = ("D65", "3200 K", "5600 K")
"""What the skins are seen under, the camera balanced to it."""

WAVELENGTH = (400, 430, 460, 490, 517, 529, 544, 553, 577, 586, 601, 622, 652, 700)
PEOPLE = (2, 3, 5, 6, 8, 9, 10, 12, 14, 16, 17, 44, 96, 97, 98, 99, 100)
"""Numbers in the data set; 44 is the person of the lowest reflectance in it."""
_TABLE = """
2422 1581 2062 0596 0924 1409 1872 2172 2972 2431 0783 0541 0941 1609 0654 1362 2077
2331 1619 2104 0709 1112 1523 1831 2125 2806 2457 0898 0619 1187 1564 0781 1536 2226
3519 2388 3002 0931 1564 2366 2938 3352 3814 3510 1151 0788 1672 2551 1024 2379 3251
3845 2741 3299 1108 1854 2750 3335 3713 4047 3922 1345 0933 1953 2921 1208 2788 3593
4007 2803 3500 1278 2102 2889 3440 3811 4227 4166 1525 1056 2218 2885 1391 2971 3754
3948 2617 3543 1343 2142 2790 3282 3683 4159 4060 1591 1077 2310 2697 1466 2865 3668
3814 2428 3569 1421 2176 2626 3078 3463 4058 3951 1659 1109 2419 2459 1557 2741 3575
3821 2463 3610 1481 2242 2611 3081 3419 4110 4004 1721 1153 2520 2422 1626 2776 3636
3952 2460 3805 1682 2436 2783 3171 3588 4170 4099 1916 1288 2682 2566 1810 2924 3672
4319 2803 4129 1834 2679 3064 3524 3888 4543 4494 2080 1423 2968 2850 1978 3246 4049
5312 3929 4972 2198 3281 3957 4540 4827 5484 5342 2490 1800 3702 3946 2365 4201 4999
6023 4800 5664 2602 3843 4813 5348 5650 6092 5866 2923 2218 4307 5080 2785 4974 5591
6325 5163 6016 3082 4345 5239 5704 6016 6340 6128 3408 2664 4824 5561 3257 5402 5874
6664 5654 6453 3873 5085 5838 6134 6464 6621 6425 4196 3398 5492 6160 4026 5930 6210
"""
READINGS = np.array(_TABLE.split(), np.float64).reshape(len(WAVELENGTH), len(PEOPLE)) / 10000.0
"""Reflectance, a row a wavelength, a column a person."""


def reflectances() -> Array:
    """(17, 401) reflectance at 380 to 780 nm by 1, darkest first."""
    from scipy.interpolate import PchipInterpolator

    order = np.argsort(READINGS[6])
    nm = np.clip(np.arange(380.0, 781.0), WAVELENGTH[0], WAVELENGTH[-1])
    return np.asarray(PchipInterpolator(WAVELENGTH, READINGS[:, order])(nm)).T


def lit(reflectance: Array, light: str) -> Array:
    """ACEScg (n, 3) of reflectances (n, 401), 380 to 780 nm by 1, under one of :data:`LIGHTS`; white is 1."""
    colour = colour_library()
    shape = colour.SpectralShape(380, 780, 1)
    _, cmf = observed()
    if light == "D65":
        power = np.asarray(colour.SDS_ILLUMINANTS["D65"].copy().align(shape).values)
    else:
        power = np.asarray(colour.sd_blackbody(float(light.split()[0]), shape).values)
    weights = power[:, None] * cmf / (power @ cmf[:, 1])
    white = weights.sum(axis=0)
    return np.asarray((reflectance @ weights) @ to_scene((white[0] / white.sum(), white[1] / white.sum())).T)


def skins(light: str = "D65") -> Array:
    """(17, 3) the skins under a light, ACEScg, darkest first."""
    return lit(reflectances(), light)
