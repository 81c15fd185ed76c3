"""From geometry and conductor data to the impedance matrices of a line or a cable, per metre."""

from __future__ import annotations

import cmath
import functools
import math

import numpy as np
from numpy.typing import NDArray
from scipy.special import ive

from evenground.errors import EvengroundError, Finding, InputError
from evenground.model.soil import LayeredSoil
from evenground.model.split import Cable, LineImpedances, OverheadLine, Wire
from evenground.split.earth_return import MU0, Pair, earth_return

__all__ = [
    "cable_impedances",
    "conductor_shares",
    "internal_impedance",
    "line_impedances",
    "matrix_rows",
    "route_reduction_factor",
]

ComplexArray = NDArray[np.complex128]


def internal_impedance(wire: Wire, frequency_hz: float) -> complex:
    """Resistance and internal reactance of a round wire with skin effect. [ohm/m]

    z = rho_c k I0(k a)/(2 pi a I1(k a)), k = sqrt(j omega mu/rho_c): the classical solution for a solid round
    wire (common practice; any text on skin effect). A strand is taken as the solid wire of the same outer
    radius and DC resistance. Steel is taken as linear, with the stated permeability.

    Raises
    ------
    ValueError
        Without ``radius_m``.
    """
    if wire.radius_m is None:
        raise ValueError(f"wire {wire.name}: radius_m is needed for the skin effect")
    a, r_dc = wire.radius_m, wire.resistance_ohm_per_m
    rho_c = r_dc * math.pi * a**2
    k = cmath.sqrt(2j * math.pi * frequency_hz * MU0 * wire.relative_permeability / rho_c)
    # Scaled Bessel functions: the common factor cancels in the quotient.
    return complex(rho_c * k / (2.0 * math.pi * a) * ive(0, k * a) / ive(1, k * a))


def _self_parts(wire: Wire, frequency_hz: float) -> tuple[float, complex]:
    """Radius to put into the geometric part, and what to add to it. [m, ohm/m]"""
    if wire.gmr_m is not None:
        return wire.gmr_m, complex(wire.resistance_ohm_per_m)
    assert wire.radius_m is not None
    return wire.radius_m, internal_impedance(wire, frequency_hz)


def _pair(a: Wire, b: Wire) -> Pair:
    distance = math.hypot(a.x_m - b.x_m, a.height_m - b.height_m)
    if distance == 0.0:
        raise ValueError(f"wires {a.name} and {b.name} are at the same place")
    return Pair(a.height_m, b.height_m, abs(a.x_m - b.x_m), distance)


@functools.lru_cache(maxsize=256)
def _matrix(wires: tuple[Wire, ...], soil: LayeredSoil, frequency_hz: float, method: str) -> ComplexArray:
    z = np.zeros((len(wires), len(wires)), dtype=np.complex128)
    for i, a in enumerate(wires):
        radius, inner = _self_parts(a, frequency_hz)
        z[i, i] = inner + earth_return(Pair(a.height_m, a.height_m, 0.0, radius), soil, frequency_hz, method)
        for j in range(i):
            z[i, j] = z[j, i] = earth_return(_pair(a, wires[j]), soil, frequency_hz, method)
    z.setflags(write=False)  # shared by every fault place of a sweep
    return z


def matrix_rows(z: ComplexArray) -> tuple[tuple[complex, ...], ...]:
    """A matrix as the tuple of tuples that the shapes hold."""
    return tuple(tuple(complex(v) for v in row) for row in z)


def _split(z: ComplexArray, earthed: int, names: tuple[str, ...]) -> LineImpedances:
    return LineImpedances(
        matrix_rows(z[:earthed, :earthed]),
        matrix_rows(z[:earthed, earthed:]),
        matrix_rows(z[earthed:, earthed:]),
        names,
    )


def _refusal(error: Exception, owner: str, path: tuple[str | int, ...]) -> InputError:
    return InputError([Finding("network-geometry", f"{owner}: {error}", path=path)])


def line_impedances(
    line: OverheadLine, soil: LayeredSoil, frequency_hz: float, method: str = "auto"
) -> LineImpedances:
    """Impedances per metre of an overhead line, ground wires first. [ohm/m]

    Raises
    ------
    InputError
        When the geometry does not allow them, with the line's path.
    """
    if line.given is not None:
        return line.given
    try:
        z = _matrix((*line.ground_wires, *line.phases), soil, frequency_hz, method)
    except (ValueError, EvengroundError) as error:
        raise _refusal(error, f"line {line.name}", line.path) from error
    return _split(z, len(line.ground_wires), tuple(p.name for p in line.phases))


def cable_impedances(
    cable: Cable, soil: LayeredSoil, frequency_hz: float, method: str = "auto"
) -> LineImpedances:
    """Impedances per metre of a cable: sheaths, then the continuity conductor, against the cores. [ohm/m]

    A sheath is a thin tube: seen from outside, and from its own core, it acts at its mean radius. Cores of
    a three-core cable act at their common sheath. Steel armour is not modelled: use ``given``.

    Raises
    ------
    InputError
        When the geometry does not allow them, with the cable's path.
    """
    if cable.given is not None:
        return cable.given
    assert cable.sheath is not None
    sheath = cable.sheath
    tubes = tuple(
        Wire(f"sheath {i + 1}", x, -depth, sheath.resistance_ohm_per_m, gmr_m=sheath.radius_m)
        for i, (x, depth) in enumerate(cable.positions_m)
    )
    extra = (cable.continuity,) if cable.continuity is not None else ()
    try:
        outer = _matrix((*tubes, *extra), soil, frequency_hz, method)
    except (ValueError, EvengroundError) as error:
        raise _refusal(error, f"cable {cable.name}", cable.path) from error
    n = len(tubes)
    # From outside, a core is at its sheath: the same couplings without the sheath's resistance.
    coupling = outer - np.diag(
        [w.resistance_ohm_per_m if i < n else 0.0 for i, w in enumerate(tubes + extra)]
    )
    cores = coupling[:n, :n].copy()
    if sheath.core_gmr_m is not None:
        inner = 1j * frequency_hz * MU0 * math.log(sheath.radius_m / sheath.core_gmr_m)
        cores += np.eye(n) * (sheath.core_resistance_ohm_per_m + inner)
    names = tuple(f"core {i + 1}" for i in range(n)) if n > 1 else ("cores",)
    z = np.block([[outer, coupling[:, :n]], [coupling[:n, :], cores]])
    return _split(z, n + len(extra), names)


def conductor_shares(data: LineImpedances, phase: int = 0) -> tuple[complex, ...]:
    """Current in each earthed conductor of a long route for one ampere in the phase, sign of return. [-]"""
    ground = np.array(data.ground_ohm_per_m, dtype=np.complex128)
    mutual = np.array([row[phase] for row in data.mutual_ohm_per_m], dtype=np.complex128)
    return tuple(complex(v) for v in np.linalg.solve(ground, mutual))


def route_reduction_factor(data: LineImpedances, phase: int = 0) -> complex:
    """Share of the phase's current that no earthed conductor of a long route takes: r = 1 - sum. [-]

    For one conductor this is ``reduction_factor``; for several it is the same with their matrix.
    """
    return 1.0 - sum(conductor_shares(data, phase), 0j)
