"""Arrays by what they hold."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
"""Numbers: of candidates, trials or temperatures, NaN where one is not known."""
Rows = NDArray[np.int64]
"""Numbers of rows in a table of candidates, from zero."""
