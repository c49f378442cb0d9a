"""Kinds of arrays as signatures name them, each once. Shapes stand in the docstrings of what takes and gives them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

#: Readings, scores, draws: all that is measured or worked out.
Array = NDArray[np.float64]
#: What holds and what does not.
Flags = NDArray[np.bool_]
#: Counts, places, codes.
Integers = NDArray[np.int64]
#: Positions in other arrays, as numpy's own indexing gives them.
Indices = NDArray[np.intp]
#: Words, as they stand in files.
Texts = NDArray[np.object_]
