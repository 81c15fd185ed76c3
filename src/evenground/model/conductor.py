"""Conductors as metal: material, section, joint, corrosion; and the outcome of sizing."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["ConductorRequest", "ConductorResult", "ElectricalMetal"]


@dataclass(frozen=True, slots=True)
class ConductorRequest:
    """What is asked of one kind of conductor.

    Attributes
    ----------
    role : str
        ``"mat"``, ``"riser"``, ``"rod"``, ``"joint"``, ...
    material : str
        Key of the material table, e.g. ``"copper_hard_drawn"``.
    method : str
        ``"ieee80"`` (thermal equation), ``"en50522"`` (Annex D constants), ``"is3043"`` (k, as BS 7430) or
        ``"cbip_steel"`` (rule).
    joint : str
        ``"exothermic"``, ``"brazed"``, ``"compression"``, ``"bolted"``, ``"welded"``; sets the limit
        of the final temperature.
    initial_temperature_c : float
        Soil or ambient temperature before the fault. [degC]
    max_temperature_c : float or None
        Final temperature asked for; the lowest of this, the material's and the joint's governs. [degC]
    current_share : float
        Share of the fault current one such conductor must carry, 0 < share <= 1.
    shape : str
        ``"round"``, ``"strand"``, ``"strip"``.
    diameter_mm, width_mm, thickness_mm : float or None
        The section that is to be installed. [mm]
    area_mm2 : float or None
        Its metal area, when not that of a full round or rectangle (strands). [mm2]
    corrosion_rate_mm_per_year, life_years : float
        Uniform loss of thickness on each surface, and the design life. [mm/year, years]
    corrosion_area_fraction : float
        Additional allowance on area (0.15 = 15 %).
    min_area_mm2 : float or None
        Mechanical minimum, when it differs from the table's. [mm2]
    stock_series : str
        ``"metric"`` or ``"awg"``: which strands are looked up.
    relative_permeability : float or None
        Of the steel, where the voltage along the metal is computed; None: the program's value.
    """

    role: str
    material: str
    method: str = "ieee80"
    joint: str = "exothermic"
    initial_temperature_c: float = 40.0
    max_temperature_c: float | None = None
    current_share: float = 1.0
    shape: str = "round"
    diameter_mm: float | None = None
    width_mm: float | None = None
    thickness_mm: float | None = None
    area_mm2: float | None = None
    corrosion_rate_mm_per_year: float = 0.0
    life_years: float = 0.0
    corrosion_area_fraction: float = 0.0
    min_area_mm2: float | None = None
    path: tuple[str | int, ...] = ()
    stock_series: str = "metric"
    relative_permeability: float | None = None


@dataclass(frozen=True, slots=True)
class ElectricalMetal:
    """Electrical constants of a round conductor; a cladding of thickness 0 is none. [ohm m, -, m]"""

    resistivity_ohm_m: float
    relative_permeability: float = 1.0
    cladding_thickness_m: float = 0.0
    cladding_resistivity_ohm_m: float = 1.72e-8


@dataclass(frozen=True, slots=True)
class ConductorResult:
    """Outcome of sizing one kind of conductor against the worst scenario.

    Attributes
    ----------
    request : ConductorRequest
    scenario : str
        Name of the governing fault scenario.
    current_a, time_s : float
        Thermal current (share applied) and duration. [A, s]
    final_temperature_c : float
        The limit used, and ``limited_by`` says by what. [degC]
    thermal_area_mm2 : float
        Area the thermal equation asks for. [mm2]
    required_area_mm2 : float
        With corrosion and mechanical minimum. [mm2]
    governed_by : str
        ``"thermal"``, ``"mechanical minimum"``; corrosion is named in ``notes``.
    required_diameter_mm : float
        Diameter of a full round of the required area. [mm]
    installed_area_mm2 : float or None
        Area of the section given, new. [mm2]
    remaining_area_mm2 : float or None
        Area of the section given at the end of life. [mm2]
    stock_name, stock_area_mm2 : str, float or None
        Nearest stock size that is large enough; None when the table ends below. [-, mm2]
    radius_m : float
        Radius for the field solution: of the installed section, else of the stock size; the
        equivalent radius of a strip is a quarter of its width. [m]
    notes, warnings : tuple of str
    thermal_areas_mm2 : tuple of (str, float)
        What the thermal equation asks for in each scenario. [mm2]
    minimum_area_mm2 : float or None
        Mechanical minimum used; None when no table has one for this metal and shape. [mm2]
    end_of_life_area_mm2 : float
        What must be left at the end of life: the thermal area with the allowance on area. [mm2]
    """

    request: ConductorRequest
    scenario: str
    current_a: float
    time_s: float
    final_temperature_c: float
    limited_by: str
    thermal_area_mm2: float
    required_area_mm2: float
    governed_by: str
    required_diameter_mm: float
    installed_area_mm2: float | None
    remaining_area_mm2: float | None
    stock_name: str | None
    stock_area_mm2: float | None
    radius_m: float
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    thermal_areas_mm2: tuple[tuple[str, float], ...] = ()
    minimum_area_mm2: float | None = None
    end_of_life_area_mm2: float = 0.0
