"""The kinds of arrays that values hold, for the type checker."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]
IndexArray = NDArray[np.intp]
"""Places in another array."""
