"""What a conductor is made of, for the voltage along it: resistivity, permeability, cladding."""

from __future__ import annotations

from math import pi, sqrt

from evenground.model.conductor import ConductorResult, ElectricalMetal
from evenground.standards.materials import MATERIALS

__all__ = ["STEEL_PERMEABILITY", "electrical_metal"]

STEEL_PERMEABILITY = 150.0
"""Relative permeability of steel at the field strengths of earth faults, where nothing is stated; common
practice takes 100 to 300."""
MAGNETIC = {"steel", "zinc-coated steel", "copper-clad steel", "aluminium-clad steel"}
CLAD = {"copper-clad steel": "copper_annealed", "aluminium-clad steel": "aluminium_ec"}
CORE = "steel_1020"
OHM_M = 1e-8
"""One microohm centimetre. [ohm m]"""


def electrical_metal(result: ConductorResult) -> ElectricalMetal:
    """Electrical constants of a sized conductor at 20 degC, for a round of its equivalent radius.

    A cladding is as thick as the conductivity of the whole section asks for, with core and cladding side by
    side. Where the metal's area is not that of a full round, the resistivity is scaled so that the resistance
    to direct current is that of the real section.

    Raises
    ------
    KeyError
        For a material that the table does not hold; the project file's checks refuse it earlier.
    """
    request = result.request
    material = MATERIALS[request.material]
    radius = result.radius_m
    area = result.installed_area_mm2 or result.stock_area_mm2
    fill = pi * radius**2 / (area * 1e-6) if area else 1.0
    stated = request.relative_permeability
    steel = STEEL_PERMEABILITY if material.metal in MAGNETIC else 1.0
    permeability = steel if stated is None else stated
    if material.metal not in CLAD:
        return ElectricalMetal(material.resistivity_uohm_cm * OHM_M * fill, permeability)
    sheath, core = MATERIALS[CLAD[material.metal]], MATERIALS[CORE]
    inside, outside = 1 / core.resistivity_uohm_cm, 1 / sheath.resistivity_uohm_cm
    share = (1 / material.resistivity_uohm_cm - inside) / (outside - inside)
    return ElectricalMetal(
        resistivity_ohm_m=core.resistivity_uohm_cm * OHM_M * fill,
        relative_permeability=permeability,
        cladding_thickness_m=radius * (1 - sqrt(1 - share)),
        cladding_resistivity_ohm_m=sheath.resistivity_uohm_cm * OHM_M * fill,
    )
