"""The array types of the program: what shapes and numbers they hold is said where they are used."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
"""Numbers of the maths, float64; colours have shape (..., 3)."""

Pixels = NDArray[np.float32]
"""A picture, (H, W, 3) float32."""
