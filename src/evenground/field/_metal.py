"""Internal impedance of conductors at power frequency: resistance, skin effect, permeability, cladding."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, pi

import numpy as np

from evenground.errors import InputError

__all__ = ["MU_0", "Metal", "internal_impedance"]

MU_0 = 4e-7 * pi
"""Permeability of free space (to nine digits). [H/m]"""


@dataclass(frozen=True, slots=True)
class Metal:
    """What a round conductor is made of.

    Attributes
    ----------
    resistivity_ohm_m : float
    relative_permeability : float
        Of the conductor, or of the core under a cladding; about 1 for copper, 100 to 300 for steel
        at the field strengths of earth faults (common practice).
    cladding_thickness_m, cladding_resistivity_ohm_m : float
        Non-magnetic outer layer (copper on steel); thickness 0: none.
    insulated : bool
        The conductor leaks nothing into the soil; it carries current between the joints it touches.
    """

    resistivity_ohm_m: float
    relative_permeability: float = 1.0
    cladding_thickness_m: float = 0.0
    cladding_resistivity_ohm_m: float = 1.72e-8
    insulated: bool = False

    def __post_init__(self) -> None:
        for name in ("resistivity_ohm_m", "relative_permeability", "cladding_resistivity_ohm_m"):
            value = getattr(self, name)
            if not (isfinite(value) and value > 0.0):
                raise InputError(f"metal: {name} {value} is not a finite number above 0")
        if not (isfinite(self.cladding_thickness_m) and self.cladding_thickness_m >= 0.0):
            raise InputError(f"metal: cladding_thickness_m {self.cladding_thickness_m} must be 0 or more")


def internal_impedance(metal: Metal, radius_m: float, frequency_hz: float) -> complex:
    """Impedance per metre inside a round conductor of this outer radius. [ohm/m]

    ``z = rho k I0(k a)/(2 pi a I1(k a))`` with ``k = sqrt(j w mu/rho)``; a cladding is matched to the core by
    the ratio of tangential fields at their boundary (S. A. Schelkunoff, Bell System Tech. J. 13 (1934) 532).

    Raises
    ------
    InputError
        When the cladding is as thick as the conductor, or the frequency is not above 0.
    """
    from scipy.special import ive, kve

    if not frequency_hz > 0.0:
        raise InputError(f"frequency_hz: {frequency_hz} must be above 0")
    core = radius_m - metal.cladding_thickness_m
    if core <= 0.0:
        raise InputError(f"metal: cladding of {metal.cladding_thickness_m} m on a radius of {radius_m} m")
    omega = 2.0 * pi * frequency_hz
    k1 = np.sqrt(1j * omega * MU_0 * metal.relative_permeability / metal.resistivity_ohm_m)
    ratio = metal.resistivity_ohm_m * k1 * ive(0, k1 * core) / ive(1, k1 * core)
    if metal.cladding_thickness_m == 0.0:
        return complex(ratio / (2.0 * pi * radius_m))
    rho = metal.cladding_resistivity_ohm_m
    k2 = np.sqrt(1j * omega * MU_0 / rho)
    x, y = k2 * core, k2 * radius_m
    # scaled functions: I = ive e^|Re|, K = kve e^-z; the common factors of both terms are kept apart
    match = (ratio * ive(1, x) - rho * k2 * ive(0, x)) / (rho * k2 * kve(0, x) + ratio * kve(1, x))
    grow = np.exp(x.real - y.real) * np.exp(x - y)
    electric = ive(0, y) + match * grow * kve(0, y)
    magnetic = ive(1, y) - match * grow * kve(1, y)
    return complex(rho * k2 * electric / magnetic / (2.0 * pi * radius_m))
