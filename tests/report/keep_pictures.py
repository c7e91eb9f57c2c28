"""Keep the golden pictures anew, where it is meant: `python -m tests.report.keep_pictures`."""

from __future__ import annotations

import numpy as np
from PIL import Image

from tests.report.test_pictures import GOLDEN, GOLDENS, as_pixels

if __name__ == "__main__":
    GOLDEN.mkdir(exist_ok=True)
    for name in GOLDENS:
        Image.fromarray(as_pixels(name).astype(np.uint8)).save(
            GOLDEN / f"{name}.png", optimize=True
        )
