"""The readings of a survey as functions of the soil, four probes and driven rods alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from evenground.model.soil import ApparentReading, ArrayKind, LayeredSoil
from evenground.soil._forward import FINE, FloatArray, Geometry, curve, geometry_of_pairs
from evenground.soil._quick import quick_curve
from evenground.soil._rod import RodCurve

__all__ = ["Curves", "Survey", "geometry_of", "model_values", "survey_of"]


class Curves(Protocol):
    """Apparent resistivities of many models at the readings of one survey."""

    def values(self, rho: FloatArray, h: FloatArray) -> FloatArray:
        """(M, n) of models rho (M, N), h (M, N - 1). [ohm m]"""

    def values_and_slopes(self, rho: FloatArray, h: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(M, n) and the derivatives by ln(rho), ln(h): (M, 2 N - 1, n)."""


@dataclass(frozen=True, slots=True)
class _Mixed:
    """Some readings from one kind of curve, the others from another."""

    parts: tuple[tuple[Curves, tuple[int, ...]], ...]
    count: int

    def values(self, rho: FloatArray, h: FloatArray) -> FloatArray:
        whole = np.empty((len(rho), self.count))
        for part, places in self.parts:
            whole[:, places] = part.values(rho, h)
        return whole

    def values_and_slopes(self, rho: FloatArray, h: FloatArray) -> tuple[FloatArray, FloatArray]:
        whole = np.empty((len(rho), self.count))
        slopes = np.empty((len(rho), 2 * rho.shape[1] - 1, self.count))
        for part, places in self.parts:
            whole[:, places], slopes[:, :, places] = part.values_and_slopes(rho, h)
        return whole, slopes


@dataclass(frozen=True, slots=True)
class Survey:
    """Readings as functions of the soil: ``probes`` by potentials at the surface, ``rods`` by resistance.

    ``at_probes`` and ``at_rods`` are the places of either kind in the list of readings.
    """

    probes: Geometry | None
    rods: RodCurve | None
    at_probes: tuple[int, ...]
    at_rods: tuple[int, ...]

    def exact(self, rho: FloatArray, h: FloatArray) -> FloatArray:
        """Apparent resistivities (M, n), without the shortcuts of :meth:`quick`. [ohm m]"""
        whole = np.empty((len(rho), len(self.at_probes) + len(self.at_rods)))
        if self.probes is not None:
            whole[:, self.at_probes] = curve(self.probes, rho, h)
        if self.rods is not None:
            whole[:, self.at_rods] = self.rods.values(rho, h)
        return whole

    def quick(self, name: str = FINE) -> Curves:
        """The same for thousands of models."""
        if self.rods is None:
            assert self.probes is not None
            return quick_curve(self.probes, name=name)
        if self.probes is None:
            return self.rods
        parts = ((quick_curve(self.probes, name=name), self.at_probes), (self.rods, self.at_rods))
        return _Mixed(parts, len(self.at_probes) + len(self.at_rods))


def survey_of(readings: Sequence[ApparentReading]) -> Survey:
    """Prepare the readings of one survey."""
    at_rods = tuple(k for k, r in enumerate(readings) if r.array is ArrayKind.DRIVEN_ROD)
    at_probes = tuple(k for k in range(len(readings)) if k not in set(at_rods))
    rods = None
    if at_rods:
        lengths = np.array([readings[k].position_m for k in at_rods])
        rods = RodCurve(lengths, np.array([(readings[k].rod_diameter_m or 0.0) / 2.0 for k in at_rods]))
    probes = geometry_of([readings[k] for k in at_probes]) if at_probes else None
    return Survey(probes, rods, at_probes, at_rods)


def geometry_of(readings: Sequence[ApparentReading]) -> Geometry:
    """The distances and weights by which four-probe readings see surface potentials."""
    distances = []
    for reading in readings:
        if reading.positions_m is not None:
            c1, p1, p2, c2 = reading.positions_m
            distances.append((abs(p1 - c1), abs(p2 - c2), abs(p1 - c2), abs(p2 - c1)))
            continue
        near, far = reading.position_m, 2.0 * reading.position_m
        if reading.half_potential_m is not None:
            near, far = (
                reading.position_m - reading.half_potential_m,
                reading.position_m + reading.half_potential_m,
            )
        distances.append((near, near, far, far))
    return geometry_of_pairs(np.array(distances), (1.0, 1.0, -1.0, -1.0))


def model_values(readings: Sequence[ApparentReading], soil: LayeredSoil) -> FloatArray:
    """Apparent resistivity of a soil at each reading. [ohm m]"""
    rho = np.array([soil.resistivities_ohm_m])
    h = np.array([soil.thicknesses_m]).reshape(1, -1)
    return np.asarray(survey_of(readings).exact(rho, h)[0], dtype=float)
