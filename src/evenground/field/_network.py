"""Metal that is not equipotential: axial currents, internal impedance, self and mutual induction.

Nodal form: every segment leaks at the mean of its ends' potentials through the earth's matrix, and carries
an axial current driven by their difference through its internal impedance and the induction of all
segments (Otero, Cidras and del Alamo, IEEE Trans. Power Delivery 14 (1999)). The earth's matrix is the
static one; the induction holds the earth's return (:mod:`evenground.field._earth_return`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenground.errors import InputError, TooLargeError
from evenground.field._backfill import Backfill
from evenground.field._checks import sampled_means
from evenground.field._circuit import Branches, Circuit, Injection, build_circuit
from evenground.field._earth_return import (
    EarthReturn,
    fit_earth_return,
    no_earth_return,
    skin_depth_m,
)
from evenground.field._images import ImageSet, fit_images
from evenground.field._metal import Metal
from evenground.field._network_compressed import (
    compressed_network_bytes,
    plan_network,
    solve_compressed_network,
)
from evenground.field._network_dense import dense_network_bytes, solve_dense_network
from evenground.field._segments import Segments
from evenground.field._solution import SolverReport, evaluate_potential
from evenground.field._solve import LEAST_BYTES, Progress, default_limit, teller
from evenground.model.electrode import Electrode
from evenground.model.soil import LayeredSoil

__all__ = ["Injection", "NetworkSolution", "solve_network"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
ComplexArray = NDArray[np.complex128]

DENSE_UP_TO = 1500
"""Above this number of segments the matrices are compressed."""
SHALLOW = 0.1
"""Share of the skin depth down to which metal counts as lying at the surface for the earth's return."""
CURRENT_ERROR = 1e-6
"""Largest current that may be lost at a joint, as a share of what is injected."""


@dataclass(frozen=True, eq=False)
class NetworkSolution:
    """Potentials and currents of metal with impedance.

    Attributes
    ----------
    nodes_m : (k, 3)
        Ends of segments, joined where they touch. [m]
    node_potential_v : (k,)
    ends : (2, n)
        Node at the start and end of each segment.
    leaked_a : (n,)
        Current each segment leaks; 0 where it is insulated. [A]
    axial_a : (n,)
        Mean axial current from start to end. [A]
    injected_at : (j,)
        Node of each injection.
    earth_power_w, metal_power_w : float
        Active power lost in the soil with its backfill, and in the metal with the earth's return. [W]
    report : SolverReport
    notes : tuple of str
    """

    soil: LayeredSoil
    segments: Segments
    images: ImageSet
    nodes_m: FloatArray
    ends: IntArray
    node_potential_v: ComplexArray
    leaked_a: ComplexArray
    axial_a: ComplexArray
    injected_at: IntArray
    injections: tuple[Injection, ...]
    earth_power_w: float
    metal_power_w: float
    report: SolverReport

    @property
    def notes(self) -> tuple[str, ...]:
        """The report's notes."""
        return self.report.notes

    @property
    def impedance_ohm(self) -> complex:
        """Potential of the first injection point over its current (a single injection only). [ohm]"""
        if len(self.injections) != 1:
            raise InputError("impedance_ohm needs exactly one injection")
        return complex(self.node_potential_v[self.injected_at[0]] / self.injections[0].current_a)

    @property
    def greatest_difference_v(self) -> float:
        """Largest magnitude of the difference between an injection point and any other metal. [V]"""
        v = self.node_potential_v
        return float(max(np.max(np.abs(v - v[k])) for k in self.injected_at))

    def potential_v(self, points_m: ArrayLike) -> ComplexArray:
        """Potential in the soil at points (n, 3), z is depth. [m -> V]"""
        real, imag = (
            evaluate_potential(self.soil, self.segments, self.images, np.ascontiguousarray(part), points_m)
            for part in (self.leaked_a.real, self.leaked_a.imag)
        )
        return np.asarray(real + 1j * imag)


def solve_network(
    electrode: Electrode,
    soil: LayeredSoil,
    metals: Mapping[str, Metal],
    injections: Sequence[Injection],
    *,
    frequency_hz: float = 50.0,
    segment_m: float | None = None,
    method: str = "auto",
    earth_return: bool = True,
    backfill: Mapping[str, Backfill] | None = None,
    memory_limit_bytes: int | None = None,
    progress: Progress | None = None,
) -> NetworkSolution:
    """Solve metal with its impedance for currents injected at stated places.

    Conductors that touch are bonded. A piece of bare metal that touches no other is coupled to it through
    the soil only.

    Parameters
    ----------
    metals : mapping
        Conductor kind -> Metal; insulated ones leak nothing.
    injections : sequence of Injection
        Currents as phasors; negative ones are taken out. What they sum up to returns far away.
    frequency_hz : float
    segment_m : float, optional
        Largest segment length; None: half the typical distance between crossings. [m]
    method : str
        ``"dense"``, ``"compressed"``, or ``"auto"``: dense up to 1500 segments.
    earth_return : bool
        Whether induction knows of the conducting soil; False overestimates it on large sites.
    backfill : mapping, optional
        Conductor kind -> :class:`Backfill` around all conductors of that kind.
    memory_limit_bytes, progress : optional
        As for :func:`evenground.field.solve`.

    Raises
    ------
    InputError
        A kind without metal, no injection, one away from the metal, or insulated metal that nothing earths.
    NotConvergedError
        The kernels could not be fitted, or the equations not solved.
    TooLargeError
        The job would need more memory than allowed.
    CancelledError
        Stopped by ``progress``.
    """
    if method not in ("auto", "dense", "compressed"):
        raise InputError(f"method: {method!r} is not 'auto', 'dense' or 'compressed'")
    tell = teller(progress)
    tell("layered-earth kernel", 0.0)
    images = fit_images(soil)
    returning = fit_earth_return(soil, frequency_hz) if earth_return else no_earth_return()
    tell("cutting conductors", 0.02)
    circuit = build_circuit(electrode, soil, metals, injections, frequency_hz, segment_m, backfill or {})
    limit = memory_limit_bytes if memory_limit_bytes is not None else default_limit()
    found, memory = _solve(circuit, images, returning, frequency_hz, method, limit, tell)
    tell("checking", 0.96)
    solution = _solution(circuit, soil, images, returning, found, memory, injections, frequency_hz)
    tell("done", 1.0)
    return solution


def _solve(
    circuit: Circuit,
    images: ImageSet,
    earth_return: EarthReturn,
    frequency_hz: float,
    method: str,
    limit: int,
    tell: Callable[[str, float], None],
) -> tuple[Branches, int]:
    n = len(circuit.segments)
    if method == "dense" or (method == "auto" and n <= DENSE_UP_TO):
        memory = dense_network_bytes(n)
        _refuse_above(limit, memory, n)
        return solve_dense_network(circuit, images, earth_return, frequency_hz, tell), memory
    _refuse_above(limit, LEAST_BYTES * n, n)
    plan = plan_network(circuit)
    memory = compressed_network_bytes(plan, n)
    _refuse_above(limit, memory, n)
    return solve_compressed_network(circuit, images, earth_return, frequency_hz, plan, tell), memory


def _refuse_above(limit: int, memory: int, segments: int) -> None:
    if memory > limit:
        raise TooLargeError(
            f"{segments} segments with axial currents need {memory / 1e9:.3g} GB; {limit / 1e9:.3g} GB are "
            "allowed. Give a larger segment_m"
        )


def _solution(
    circuit: Circuit,
    soil: LayeredSoil,
    images: ImageSet,
    earth_return: EarthReturn,
    found: Branches,
    memory: int,
    injections: Sequence[Injection],
    frequency_hz: float,
) -> NetworkSolution:
    segments, v = circuit.segments, found.potential_v
    leaked = np.zeros(len(segments), dtype=complex)
    leaked[circuit.bare] = found.leaked_a
    mean, drop = circuit.mean() @ v, circuit.incidence() @ v
    lost = circuit.mean().T @ found.leaked_a + circuit.incidence().T @ found.axial_a - circuit.fed_a
    report = SolverReport(
        method=found.method,
        segments=len(segments),
        layers=soil.layers,
        images=images.terms,
        kernel_error=images.error,
        residual=found.residual,
        energy_balance=_energy_balance(circuit, soil, images, found.leaked_a, mean),
        iterations=found.iterations,
        longest_segment_m=float(segments.length_m.max()),
        shortest_segment_m=float(segments.length_m.min()),
        memory_bytes=memory,
        notes=(*segments.notes, *_notes(circuit, soil, earth_return, frequency_hz)),
        node_balance=float(np.max(np.abs(lost)) / np.max(np.abs(circuit.fed_a))),
    )
    return NetworkSolution(
        soil,
        segments,
        images,
        circuit.nodes_m,
        circuit.ends,
        v,
        leaked,
        found.axial_a,
        circuit.injected_at,
        tuple(injections),
        float(np.vdot(found.leaked_a, mean).real),
        float(np.vdot(found.axial_a, drop).real),
        report,
    )


def _energy_balance(
    circuit: Circuit, soil: LayeredSoil, images: ImageSet, leaked: ComplexArray, mean: ComplexArray
) -> float:
    """Power leaked by a sample of segments, against that with their potentials computed anew."""
    leaking = circuit.leaking
    chosen, real = sampled_means(soil, leaking, images, np.ascontiguousarray(leaked.real))
    imag = sampled_means(soil, leaking, images, np.ascontiguousarray(leaked.imag))[1]
    fresh = real + 1j * imag + circuit.series_ohm[chosen] * leaked[chosen]
    difference = np.sum(np.conj(leaked[chosen]) * (fresh - mean[chosen]))
    return float(abs(difference) / np.sum(np.abs(leaked[chosen] * mean[chosen])))


def _notes(
    circuit: Circuit, soil: LayeredSoil, earth_return: EarthReturn, frequency_hz: float
) -> tuple[str, ...]:
    found, segments = [], circuit.segments
    low = np.minimum(segments.start, segments.end).min(axis=1)
    high = np.maximum(segments.start, segments.end).max(axis=1)
    deepest, extent = float(high[2]), float(np.hypot(*(high - low)[:2]))
    skin = skin_depth_m(min(soil.resistivities_ohm_m), frequency_hz)
    if len(earth_return.weight) == 0 and extent > 0.5 * skin:
        found.append(
            f"the metal extends over {extent:.0f} m, more than half the skin depth of the soil "
            f"({skin:.0f} m): the induction has no earth-return term and is overestimated"
        )
    elif len(earth_return.weight) and deepest > SHALLOW * skin:
        found.append(
            f"metal reaches {deepest:.0f} m down, more than a tenth of the skin depth of the soil "
            f"({skin:.0f} m): the earth's return is that of metal near the surface"
        )
    insulated = len(circuit.segments) - len(circuit.bare)
    if insulated:
        found.append(f"{insulated} segments are insulated and leak nothing")
    if earth_return.error > 0.0:
        found.append(
            f"earth's return: kernel of the layered soil fitted to {earth_return.error:.1e}, relative"
        )
    return tuple(found)
