"""Write ``sample_images/small``: the sample stills at half their width and height, for the wheel.

    python sample_images/scene/small.py

The mean of each block of 2 x 2 code values, rounded to 10 bits again (ties up), which keeps the wheel at a third of the
weight. The whole range of a code is spread over 16 bits as in the large stills. ``tests/units/test_samples.py`` holds
that these files are what this script makes of those.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import OpenImageIO as oiio

STILLS = Path(__file__).parents[1]


def halved(codes: np.ndarray) -> np.ndarray:
    """10-bit codes (H, W, 3), H and W even, to uint16 codes (H / 2, W / 2, 3)."""
    height, width, _ = codes.shape
    blocks = codes.astype(np.int64).reshape(height // 2, 2, width // 2, 2, 3)
    return ((blocks.sum(axis=(1, 3)) + 2) // 4).astype(np.uint16)


def read_codes(path: Path) -> np.ndarray:
    """The 10-bit codes of a sample still, uint16 (H, W, 3)."""
    source = oiio.ImageInput.open(str(path))
    codes = source.read_image("uint16")
    source.close()
    return np.asarray(codes) >> 6


def main() -> None:
    """Write every small still anew."""
    (STILLS / "small").mkdir(exist_ok=True)
    for path in sorted(STILLS.glob("*.png")):
        codes = halved(read_codes(path))
        spread = (codes << 6) | (codes >> 4)
        spec = oiio.ImageSpec(spread.shape[1], spread.shape[0], 3, "uint16")
        spec.attribute("png:compressionLevel", 9)
        spec.attribute("oiio:ColorSpace", "raw")  # else the file says that it is sRGB
        target = STILLS / "small" / path.name
        sink = oiio.ImageOutput.create(str(target))
        if not sink or not sink.open(str(target), spec) or not sink.write_image(spread) or not sink.close():
            sys.exit(f"{target}: could not be written")
        print(f"wrote {target.relative_to(STILLS)}, {target.stat().st_size / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
