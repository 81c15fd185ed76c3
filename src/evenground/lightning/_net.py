"""Metal in soil at one frequency: axial and leakage currents of thin segments, joined at their nodes.

Per segment the leakage is constant and the potential is the mean of its two nodes; axial impedances are
the internal one and the mutual inductances; every mean of 1/r carries the propagation factor for the mean
distance of the pair. Uniform soil with its surface as mirror. The voltage reference is infinity in the
soil (Visacro and Soares, IEEE Trans. Power Delivery 20 (2005), the hybrid method).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenground.errors import TooLargeError
from evenground.lightning._integrals import PairMeans, pair_means, segment_potential
from evenground.lightning._soil_over_frequency import EPS0, MU0, internal_impedance, soil_admittivity
from evenground.model.lightning import FrequencySoil, WireMetal
from evenground.model.metalwork import Metalwork

__all__ = ["LARGEST_SEGMENTS", "Net", "NetAnswer"]

Complexes = NDArray[np.complex128]
Floats = NDArray[np.float64]

LARGEST_SEGMENTS = 1500
"""More segments than this are refused: the solution is dense and complex at every frequency."""


@dataclass(frozen=True, eq=False)
class NetAnswer:
    """Response to one ampere at one frequency.

    Attributes
    ----------
    node_v : array of shape (n,)
        Potential of every node. [V/A]
    leakage_a : array of shape (m,)
        Current that every segment gives to the soil. [A/A]
    """

    node_v: Complexes
    leakage_a: Complexes


class Net:
    """A net with its geometry integrated once, to be solved at many frequencies."""

    def __init__(self, metal: Metalwork, soil: FrequencySoil, wire: WireMetal) -> None:
        if len(metal.start) > LARGEST_SEGMENTS:
            raise TooLargeError(
                f"{len(metal.start)} segments; the impulse solution takes at most {LARGEST_SEGMENTS}: "
                "use longer segments or only the part of the mat around the place of injection"
            )
        self.metal, self.soil, self.wire = metal, soil, wire
        self.means: PairMeans = pair_means(metal)

    def static_leakage(self, leakage_radius_m: Floats | None = None) -> tuple[float, Floats]:
        """Resistance with all metal at one potential, and each segment's share of the current. [ohm, -]"""
        means = self._with_radius(leakage_radius_m)
        rho = self.soil.resistivity_ohm_m
        shares = np.linalg.solve(
            rho / (4.0 * math.pi) * (means.direct + means.image), np.ones(len(means.length_m))
        )
        total = float(shares.sum())
        return 1.0 / total, np.asarray(shares / total, dtype=np.float64)

    def solve(
        self,
        frequency_hz: float,
        node: int,
        *,
        leakage_radius_m: Floats | None = None,
        propagation: bool = True,
    ) -> NetAnswer:
        """Inject one ampere at a node.

        ``propagation=False`` leaves out the delay and loss in the soil, as is right at power frequency on a
        mat of small resistance, where the voltage is measured against remote soil and not against infinity.
        """
        kappa = soil_admittivity(self.soil, frequency_hz)
        omega = 2.0 * math.pi * frequency_hz
        gamma = np.sqrt(1j * omega * MU0 * kappa) if propagation else 0.0
        means = self._with_radius(leakage_radius_m)
        mirror = (kappa - 1j * omega * EPS0) / (kappa + 1j * omega * EPS0)
        along = _delayed(self.means.direct, gamma)
        direct = along if means is self.means else _delayed(means.direct, gamma)
        across = (direct + mirror * _delayed(means.image, gamma)) / (4.0 * math.pi * kappa)
        length = means.length_m
        axial = 1j * omega * MU0 / (4.0 * math.pi) * means.cosine * along
        axial = axial * np.outer(length, length)
        axial[np.diag_indices_from(axial)] += length * internal_impedance(
            self.metal.radius_m,
            frequency_hz,
            self.wire.resistivity_ohm_m,
            self.wire.relative_permeability,
        )
        return self._nodal(axial, across, node)

    def _nodal(self, axial: Complexes, across: Complexes, node: int) -> NetAnswer:
        """Kirchhoff's current law at the nodes."""
        count, pieces = len(self.metal.nodes_m), np.arange(len(self.metal.start))
        incidence = np.zeros((len(pieces), count))
        incidence[pieces, self.metal.start] = 1.0
        incidence[pieces, self.metal.end] = -1.0
        half = 0.5 * np.abs(incidence)
        leaving = np.linalg.solve(across, half.astype(np.complex128))
        flowing = np.linalg.solve(axial, incidence.astype(np.complex128))
        admittance = incidence.T @ flowing + half.T @ leaving
        injected = np.zeros(count, dtype=np.complex128)
        injected[node] = 1.0
        potential: Complexes = np.asarray(np.linalg.solve(admittance, injected), dtype=np.complex128)
        return NetAnswer(potential, np.asarray(leaving @ potential, dtype=np.complex128))

    def _with_radius(self, radius: Floats | None) -> PairMeans:
        """Geometry with other radii for the leakage (ionised soil); axial terms keep the metal's."""
        if radius is None:
            return self.means
        grown = Metalwork(
            self.metal.nodes_m,
            self.metal.start,
            self.metal.end,
            radius,
            self.metal.length_m,
            self.metal.conductor,
        )
        return pair_means(grown)

    def point_coefficients(self, points_m: Floats, frequency_hz: float) -> Complexes:
        """Potential at points in or on the soil for one ampere from each segment. [V/A]"""
        kappa = soil_admittivity(self.soil, frequency_hz)
        omega = 2.0 * math.pi * frequency_hz
        gamma = np.sqrt(1j * omega * MU0 * kappa)
        tail = self.metal.nodes_m[self.metal.start]
        way = (self.metal.nodes_m[self.metal.end] - tail) / self.metal.length_m[:, None]
        mirror = (kappa - 1j * omega * EPS0) / (kappa + 1j * omega * EPS0)
        flip = np.array([1.0, 1.0, -1.0])
        net = (self.metal.length_m, self.metal.radius_m)
        direct = segment_potential(points_m, tail, way, *net)
        image = segment_potential(points_m, tail * flip, way * flip, *net)
        result: Complexes = (_delayed(direct, gamma) + mirror * _delayed(image, gamma)) / (
            4.0 * math.pi * kappa
        )
        return result


def _delayed(mean: Floats, gamma: complex) -> Complexes:
    """Mean of exp(-gamma r)/r, taken at the distance that has the same mean of 1/r."""
    result: Complexes = mean * np.exp(-gamma / mean)
    return result
