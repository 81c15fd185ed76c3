"""The field at given places without the estimate of its own error: for many like problems in a row."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenground.errors import TooLargeError
from evenground.field._backfill import Backfill, embed, series_resistance
from evenground.field._dense import solve_dense
from evenground.field._images import fit_images
from evenground.field._segments import cut_conductors
from evenground.field._solution import evaluate_potential
from evenground.field._solve import DENSE_UP_TO
from evenground.model.electrode import Electrode
from evenground.model.soil import LayeredSoil

__all__ = ["quick_field"]

FloatArray = NDArray[np.float64]


def quick_field(
    electrode: Electrode,
    soil: LayeredSoil,
    points_m: ArrayLike,
    *,
    segment_m: float | None = None,
    backfill: Mapping[str, Backfill] | None = None,
) -> tuple[float, FloatArray]:
    """Resistance, and potential at points (n, 3) for one volt on the metal, as :func:`solve` finds them.

    Raises
    ------
    TooLargeError
        Above the size that is solved by a dense matrix.
    NotConvergedError
        When the equations could not be solved.
    """
    around = backfill or {}
    images = fit_images(soil)
    segments = cut_conductors(embed(electrode.conductors, around), soil, segment_m)
    if len(segments) > DENSE_UP_TO:
        raise TooLargeError(f"{len(segments)} segments; give a larger segment_m (at most {DENSE_UP_TO})")
    series = series_resistance(segments, electrode.conductors, around)
    result = solve_dense(segments, images, np.ones((len(segments), 1)), series)
    current = np.ascontiguousarray(result.current[:, 0])
    return 1.0 / float(current.sum()), evaluate_potential(soil, segments, images, current, points_m)
