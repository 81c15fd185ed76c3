"""What a person meets: potential under the feet, touch and step, for a potential rise of one volt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Potential", "Surface", "surface_of"]

FloatArray = NDArray[np.float64]
Potential = Callable[[FloatArray, FloatArray], FloatArray]
"""Surface potential at (x, y) as a fraction of the potential rise."""


@dataclass(frozen=True)
class Surface:
    """The unit solution as people meet it.

    Attributes
    ----------
    potential : callable
        Surface potential at arrays x, y; with phasors the part in phase with the potential rise. [m -> -]
    touch : callable, optional
        Magnitude of the voltage between metal within reach and the ground at x, y. Left out: the metal is
        at one potential, the potential rise, and touch is 1 less the surface potential. [m -> -]
    drop : callable, optional
        Magnitude of the voltage between two places (xa, ya, xb, yb); left out: from ``potential``. [m -> -]
    """

    potential: Potential
    touch: Potential | None = None
    drop: Callable[[FloatArray, FloatArray, FloatArray, FloatArray], FloatArray] | None = None

    def __call__(self, x_m: FloatArray, y_m: FloatArray) -> FloatArray:
        """Surface potential. [m -> -]"""
        return self.potential(x_m, y_m)

    def touch_at(self, x_m: FloatArray, y_m: FloatArray, potential: FloatArray | None = None) -> FloatArray:
        """Touch voltage; ``potential`` saves work when it is known already. [m -> -]"""
        if self.touch is not None:
            return self.touch(x_m, y_m)
        return np.asarray(1.0 - (self.potential(x_m, y_m) if potential is None else potential))

    def between(self, xa_m: FloatArray, ya_m: FloatArray, xb_m: FloatArray, yb_m: FloatArray) -> FloatArray:
        """Voltage between the places a and b. [m -> -]"""
        if self.drop is not None:
            return self.drop(xa_m, ya_m, xb_m, yb_m)
        both = self.potential(np.concatenate([xa_m, xb_m]), np.concatenate([ya_m, yb_m]))
        return np.asarray(np.abs(both[: len(xa_m)] - both[len(xa_m) :]))


def surface_of(potential: Potential | Surface) -> Surface:
    """A surface; a bare potential stands for metal at one potential."""
    return potential if isinstance(potential, Surface) else Surface(potential)
