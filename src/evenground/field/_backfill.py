"""Conductors embedded in a cylinder of other material: concrete, bentonite, carbon backfill."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import isfinite, log, pi

import numpy as np
from numpy.typing import NDArray

from evenground.errors import InputError
from evenground.field._segments import Segments
from evenground.model.electrode import Conductor

__all__ = ["Backfill", "embed", "series_resistance"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Backfill:
    """A cylinder around a conductor.

    The current crosses the cylinder radially, ``rho_b/(2 pi L) ln(outer/inner)``, and enters the soil from
    its outer face as from a conductor of that radius (Fagan and Lee, The use of concrete-enclosed
    reinforcing rods as grounding electrodes, IEEE Trans. IGA-6 (1970) 337; IEEE Std 80, clause on
    concrete-encased electrodes). Sound while the segments are long against the outer radius.
    """

    outer_radius_m: float
    resistivity_ohm_m: float

    def __post_init__(self) -> None:
        for name in ("outer_radius_m", "resistivity_ohm_m"):
            value = getattr(self, name)
            if not (isfinite(value) and value > 0.0):
                raise InputError(f"backfill: {name} {value} is not a finite number above 0")


def embed(conductors: Sequence[Conductor], backfill: Mapping[str, Backfill]) -> tuple[Conductor, ...]:
    """The conductors with the outer radius of their backfill; the mapping goes by conductor kind.

    Raises
    ------
    InputError
        When a kind does not occur, or a cylinder is not thicker than its conductor.
    """
    missing = sorted(set(backfill) - {c.kind for c in conductors})
    if missing:
        raise InputError(f"backfill for kinds that do not occur: {', '.join(missing)}")
    found = []
    for c in conductors:
        filling = backfill.get(c.kind)
        if filling is not None:
            if filling.outer_radius_m <= c.radius_m:
                raise InputError(
                    f"backfill of {c.kind}: outer_radius_m {filling.outer_radius_m} must exceed the "
                    f"conductor's radius {c.radius_m}"
                )
            c = replace(c, radius_m=filling.outer_radius_m)
        found.append(c)
    return tuple(found)


def series_resistance(
    segments: Segments, conductors: Sequence[Conductor], backfill: Mapping[str, Backfill]
) -> FloatArray:
    """Resistance of the cylinder around each segment, 0 where there is none. [ohm]"""
    per_metre = np.zeros(len(conductors))
    for k, c in enumerate(conductors):
        filling = backfill.get(c.kind)
        if filling is not None:
            per_metre[k] = filling.resistivity_ohm_m * log(filling.outer_radius_m / c.radius_m) / (2.0 * pi)
    return np.asarray(per_metre[segments.conductor] / segments.length_m)
