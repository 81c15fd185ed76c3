"""Thermal section by each standard: which constants, which final temperature by itself."""

from __future__ import annotations

from evenground.model.conductor import ConductorRequest
from evenground.standards import ieee80, is3043
from evenground.standards.en50522 import conductor_area_en
from evenground.standards.materials import EN_METALS, EnMetal, Material

__all__ = ["METHODS", "check_method", "en_metal", "own_limit", "steel_rule", "thermal_area"]

METHODS = ("ieee80", "en50522", "is3043", "cbip_steel")
"""Ways to size: IEEE Std 80, EN 50522 Annex D, k of IS 3043 and BS 7430 (IEC 60364-5-54), the Indian rule for
steel."""
_BASE_METALS = {"zinc-coated steel": "steel"}


def _base(material: Material) -> str:
    return _BASE_METALS.get(material.metal, material.metal)


def en_metal(material: Material) -> EnMetal | None:
    """Constants of EN 50522 Annex D for a material; None for clad and stainless metals."""
    return EN_METALS.get(_base(material))


def steel_rule(request: ConductorRequest) -> is3043.SteelRule:
    """Factor of the Indian rule: bolted and pressed joints bear less than welded ones."""
    return is3043.STEEL_RULES["bolted" if request.joint in ("bolted", "compression") else "welded"]


def check_method(request: ConductorRequest, material: Material) -> tuple[str, str] | None:
    """What is wrong with method and material, and the field; None when nothing is."""
    metal = _base(material)
    if request.method == "en50522" and en_metal(material) is None:
        return f"EN 50522 Annex D has no constants for {material.name}; use the method 'ieee80'", "method"
    if request.method == "is3043" and metal not in is3043.K_METALS:
        return f"IS 3043 has no constants for {material.name}; use the method 'ieee80'", "method"
    if request.method == "cbip_steel":
        if metal != "steel":
            return f"the rule of CBIP is for steel, not for {material.name}", "method"
        if request.max_temperature_c is not None:
            return "the rule of CBIP has a final temperature of its own", "max_temperature_c"
        if request.initial_temperature_c > is3043.STEEL_RULE_INITIAL_C:
            text = f"the rule of CBIP starts at {is3043.STEEL_RULE_INITIAL_C:g} °C"
            return text, "initial_temperature_c"
    return None


def own_limit(request: ConductorRequest, material: Material) -> tuple[float, str]:
    """Final temperature that the method takes when none is stated. [degC]"""
    if request.method == "en50522":
        metal = en_metal(material)
        assert metal is not None
        return metal.max_temperature_c, "usual limit of bare conductors, EN 50522 Annex D"
    if request.method == "is3043":
        return is3043.K_METALS[
            _base(material)
        ].max_temperature_c, "limit of bare conductors, IS 3043, Table 6"
    if request.method == "cbip_steel":
        return steel_rule(request).max_temperature_c, "rule of CBIP publication 223"
    return material.fusing_temperature_c, "fusing of the metal"


def thermal_area(
    request: ConductorRequest, material: Material, current_a: float, time_s: float, limit_c: float
) -> float:
    """Section that a current asks for. [mm2]

    Raises
    ------
    OutOfRangeError
        From the formulas.
    """
    start = request.initial_temperature_c
    if request.method == "en50522":
        metal = en_metal(material)
        assert metal is not None
        return conductor_area_en(current_a, time_s, metal.k_as_per_mm2, metal.beta_c, limit_c, start)
    if request.method == "is3043":
        m = is3043.K_METALS[_base(material)]
        k = is3043.conductor_k(m.heat_capacity_j_per_k_mm3, m.beta_c, m.resistivity_ohm_mm, start, limit_c)
        return is3043.conductor_area_k(current_a, time_s, k)
    if request.method == "cbip_steel":
        return is3043.steel_area_rule(steel_rule(request).factor, current_a, time_s)
    return ieee80.conductor_area_ieee(
        current_a,
        time_s,
        material.heat_capacity_j_per_cm3_k,
        material.temperature_coefficient_per_k,
        material.resistivity_uohm_cm,
        material.k0_c,
        limit_c,
        start,
    )
