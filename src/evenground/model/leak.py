"""Current that leaves the metal, segment by segment."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["SurfaceLeak"]


@dataclass(frozen=True, slots=True)
class SurfaceLeak:
    """Leakage of every segment for one volt of potential rise.

    Attributes
    ----------
    density_a_per_m2 : (n,)
        Current per area of the outer surface of the metal, without its sign. [A/m2 for 1 V]
    layer : (n,)
        Index of the soil layer.
    middle_m : (n, 3)
        [m]
    """

    density_a_per_m2: NDArray[np.float64]
    layer: NDArray[np.int64]
    middle_m: NDArray[np.float64]
