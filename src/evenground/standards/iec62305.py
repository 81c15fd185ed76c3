"""IEC 62305 (protection against lightning): levels, striking distance, earth electrode, collection area."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenground.errors import OutOfRangeError
from evenground.provenance import equation
from evenground.standards._checks import need, need_positive

__all__ = [
    "LEVELS",
    "METALS",
    "ProtectionLevel",
    "adiabatic_temperature_rise",
    "box_collection_area",
    "earth_electrode_length",
    "ground_flash_density",
    "protection_level",
    "separation_distance",
    "strikes_per_year",
    "striking_distance",
]

_TABLE = "IEC 62305-1:2010, Tables 3 and 4; IEC 62305-3:2010, Table 2"


@dataclass(frozen=True, slots=True)
class ProtectionLevel:
    """One lightning protection level.

    Attributes
    ----------
    level : int
        1 to 4 for I to IV.
    name : str
    max_current_ka, min_current_ka : float
        Largest peak of a first stroke to design for; smallest peak that is still intercepted. [kA]
    sphere_radius_m, mesh_m : float
        Rolling sphere and mesh of an air termination. [m]
    source, evidence : str
    """

    level: int
    name: str
    max_current_ka: float
    min_current_ka: float
    sphere_radius_m: float
    mesh_m: float
    source: str = _TABLE
    evidence: str = "found"


LEVELS: tuple[ProtectionLevel, ...] = (
    ProtectionLevel(1, "I", 200.0, 3.0, 20.0, 5.0),
    ProtectionLevel(2, "II", 150.0, 5.0, 30.0, 10.0),
    ProtectionLevel(3, "III", 100.0, 10.0, 45.0, 15.0),
    ProtectionLevel(4, "IV", 100.0, 16.0, 60.0, 20.0),
)
"""Levels I to IV; seen on a secondary page, check against your copy."""


def protection_level(name: str) -> ProtectionLevel:
    """The level called ``"I"`` to ``"IV"``.

    Raises
    ------
    OutOfRangeError
        For any other name.
    """
    for row in LEVELS:
        if row.name == name:
            return row
    raise OutOfRangeError(f"protection level must be one of I, II, III, IV, got {name!r}")


@equation(
    "r",
    "m",
    source="IEC 62305-1:2010, A.4",
    symbols="I",
    form="10*I**0.65",
    evidence="from memory, cross-checked",
)
def striking_distance(current_ka: float) -> float:
    """Radius of the rolling sphere for a first stroke of this peak in kA. [m]"""
    need_positive(current_ka=current_ka)
    return 10.0 * math.pow(current_ka, 0.65)


@equation(
    "l_1",
    "m",
    source="IEC 62305-3:2010, 5.4.2.1, Figure 3",
    symbols="n rho",
    form="max(5, 0.03*rho - 10) if n == 1 else (max(5, 0.02*rho - 11) if n == 2 else 5.0)",
    valid=("rho <= 3000",),
    evidence="from memory",
    name="least length of an earth electrode",
)
def earth_electrode_length(level: int, resistivity_ohm_m: float) -> float:
    """Least length of each horizontal electrode by class 1 to 4; a vertical one needs half of it. [m]

    Not asked for where the resistance of the earth termination is 10 ohm or less.
    """
    need_positive(resistivity_ohm_m=resistivity_ohm_m)
    need(level in (1, 2, 3, 4), f"level must be 1, 2, 3 or 4, got {level!r}")
    if level == 1:
        return max(5.0, 0.03 * resistivity_ohm_m - 10.0)
    if level == 2:
        return max(5.0, 0.02 * resistivity_ohm_m - 11.0)
    return 5.0


@equation(
    "A_D",
    "m2",
    source="IEC 62305-2:2010, A.2.1.1",
    symbols="L W H",
    form="L*W + 2*(3*H)*(L + W) + pi*(3*H)**2",
    evidence="from memory, cross-checked",
)
def box_collection_area(length_m: float, width_m: float, height_m: float) -> float:
    """Area that collects strikes for an isolated rectangular structure on flat ground. [m2]"""
    need_positive(length_m=length_m, width_m=width_m, height_m=height_m)
    reach = 3.0 * height_m
    return length_m * width_m + 2.0 * reach * (length_m + width_m) + math.pi * reach**2


@equation(
    "N_G",
    "1/(km2 a)",
    source="IEC 62305-2:2010, A.1",
    symbols="T_D",
    form="0.1*T_D",
    evidence="from memory",
)
def ground_flash_density(thunderstorm_days: float) -> float:
    """Flashes to ground per km2 and year from the days with thunder; a stand-in for a map. [1/(km2 a)]"""
    need_positive(thunderstorm_days=thunderstorm_days)
    return 0.1 * thunderstorm_days


@equation(
    "N_D",
    "1/a",
    source="IEC 62305-2:2010, A.2.4",
    symbols="N_G A_D C_D",
    form="N_G*A_D*C_D*1e-6",
    evidence="from memory",
)
def strikes_per_year(
    flash_density_per_km2_year: float, collection_area_m2: float, location_factor: float = 1.0
) -> float:
    """Expected number of direct strikes to a structure in a year. [1/a]"""
    need_positive(
        flash_density_per_km2_year=flash_density_per_km2_year,
        collection_area_m2=collection_area_m2,
        location_factor=location_factor,
    )
    return flash_density_per_km2_year * collection_area_m2 * location_factor * 1e-6


@equation(
    "s",
    "m",
    source="IEC 62305-3:2010, 6.3, Equation (4)",
    symbols="n k_c k_m l",
    form="(0.08 if n == 1 else (0.06 if n == 2 else 0.04))*k_c/k_m*l",
    evidence="from memory",
)
def separation_distance(
    level: int, current_share: float, insulation_factor: float, path_length_m: float
) -> float:
    """Distance that keeps a part of the lightning protection from sparking over to other metal. [m]

    ``insulation_factor`` is 1 for air and 0.5 for concrete, brick or wood; ``current_share`` is the part
    of the current in the down conductor beside it.
    """
    need_positive(
        current_share=current_share, insulation_factor=insulation_factor, path_length_m=path_length_m
    )
    need(level in (1, 2, 3, 4), f"level must be 1, 2, 3 or 4, got {level!r}")
    factor = {1: 0.08, 2: 0.06}.get(level, 0.04)
    return factor * current_share / insulation_factor * path_length_m


METALS: dict[str, tuple[float, float, float, float]] = {
    "copper": (3.92e-3, 0.0178, 8.92, 0.385),
    "aluminium": (4.0e-3, 0.029, 2.70, 0.908),
    "mild steel": (6.5e-3, 0.120, 7.70, 0.469),
}
"""Temperature coefficient [1/K], resistivity [uohm m], density [kg/dm3], heat capacity [kJ/(kg K)].

IEC 62305-1:2010, Table D.2 (from memory; with them Table D.3 for copper is reproduced)."""


@equation(
    "theta",
    "K",
    source="IEC 62305-1:2010, D.4.1.1, Equation (D.7)",
    symbols="W_R q alpha rho_0 gamma C_w",
    form="1/alpha*(exp(W_R*alpha*rho_0/(q**2*gamma*C_w)) - 1)",
    evidence="from memory, cross-checked",
)
def adiabatic_temperature_rise(
    specific_energy_j_per_ohm: float,
    section_mm2: float,
    alpha_per_k: float,
    resistivity_uohm_m: float,
    density_kg_per_dm3: float,
    heat_capacity_kj_per_kg_k: float,
) -> float:
    """Temperature rise of a conductor by an impulse, no heat given off and no skin effect. [K]"""
    need_positive(
        specific_energy_j_per_ohm=specific_energy_j_per_ohm,
        section_mm2=section_mm2,
        alpha_per_k=alpha_per_k,
        resistivity_uohm_m=resistivity_uohm_m,
        density_kg_per_dm3=density_kg_per_dm3,
        heat_capacity_kj_per_kg_k=heat_capacity_kj_per_kg_k,
    )
    heat = density_kg_per_dm3 * heat_capacity_kj_per_kg_k * section_mm2**2
    exponent = specific_energy_j_per_ohm * alpha_per_k * resistivity_uohm_m / heat
    need(exponent < 50.0, f"a section of {section_mm2!r} mm2 melts and evaporates")
    return math.expm1(exponent) / alpha_per_k
