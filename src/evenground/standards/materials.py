"""Metals: constants of IEEE Std 80 Table 1 and of EN 50522 Annex D, and the limits of joints."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

__all__ = ["EN_METALS", "JOINT_LIMITS", "MATERIALS", "EnMetal", "JointLimit", "Material"]

_TABLE_1 = "IEEE Std 80-2000, Table 1"
_TABLE_1_NEW = "IEEE Std 80-2013, Table 1"
_CHECKED = "from memory, cross-checked"


@dataclass(frozen=True, slots=True)
class Material:
    """A conductor metal as IEEE Std 80 describes it.

    Attributes
    ----------
    key, name : str
    metal : str
        ``"copper"``, ``"aluminium"``, ``"steel"``, ``"copper-clad steel"``, ``"aluminium-clad steel"``,
        ``"stainless steel"``, ``"zinc-coated steel"``: decides minimum dimensions and stock.
    conductivity_percent : float
        Of annealed copper at 20 degC. [% IACS]
    temperature_coefficient_per_k : float
        Of resistivity, at 20 degC. [1/K]
    k0_c : float
        Reciprocal of the coefficient at 0 degC. [degC]
    fusing_temperature_c : float
        [degC]
    resistivity_uohm_cm : float
        At 20 degC. [microohm cm]
    heat_capacity_j_per_cm3_k : float
        [J/(cm3 K)]
    kf : float or None
        Constant of the simplified formula printed beside it (final temperature fusing, initial 40 degC).
    source, evidence : str
    """

    key: str
    name: str
    metal: str
    conductivity_percent: float
    temperature_coefficient_per_k: float
    k0_c: float
    fusing_temperature_c: float
    resistivity_uohm_cm: float
    heat_capacity_j_per_cm3_k: float
    kf: float | None
    source: str = _TABLE_1
    evidence: str = _CHECKED


_ROWS = (
    Material(
        "copper_annealed",
        "Copper, annealed soft-drawn",
        "copper",
        100.0,
        0.00393,
        234,
        1083,
        1.72,
        3.42,
        7.00,
    ),
    Material(
        "copper_hard_drawn",
        "Copper, commercial hard-drawn",
        "copper",
        97.0,
        0.00381,
        242,
        1084,
        1.78,
        3.42,
        7.06,
    ),
    Material(
        "copper_clad_steel_wire_40",
        "Copper-clad steel wire, 40 %",
        "copper-clad steel",
        40.0,
        0.00378,
        245,
        1084,
        4.40,
        3.85,
        10.45,
    ),
    Material(
        "copper_clad_steel_wire_30",
        "Copper-clad steel wire, 30 %",
        "copper-clad steel",
        30.0,
        0.00378,
        245,
        1084,
        5.86,
        3.85,
        12.06,
    ),
    Material(
        "copper_clad_steel_rod_20",
        "Copper-clad steel rod, 20 %",
        "copper-clad steel",
        20.0,
        0.00378,
        245,
        1084,
        8.62,
        3.85,
        14.64,
    ),
    Material("aluminium_ec", "Aluminium, EC grade", "aluminium", 61.0, 0.00403, 228, 657, 2.86, 2.56, 12.12),
    Material(
        "aluminium_5005", "Aluminium, 5005 alloy", "aluminium", 53.5, 0.00353, 263, 652, 3.22, 2.60, 12.41
    ),
    Material(
        "aluminium_6201", "Aluminium, 6201 alloy", "aluminium", 52.5, 0.00347, 268, 654, 3.28, 2.60, 12.47
    ),
    Material(
        "aluminium_clad_steel_wire",
        "Aluminium-clad steel wire",
        "aluminium-clad steel",
        20.3,
        0.00360,
        258,
        657,
        8.48,
        3.58,
        17.20,
    ),
    Material("steel_1020", "Steel, 1020", "steel", 10.8, 0.00160, 605, 1510, 15.90, 3.28, 15.95),
    Material(
        "stainless_clad_steel_rod",
        "Stainless-clad steel rod",
        "stainless steel",
        9.8,
        0.00160,
        605,
        1400,
        17.50,
        4.44,
        14.72,
    ),
    Material(
        "zinc_coated_steel_rod",
        "Zinc-coated steel rod",
        "zinc-coated steel",
        8.6,
        0.00320,
        293,
        419,
        20.10,
        3.93,
        28.96,
    ),
    Material(
        "stainless_steel_304",
        "Stainless steel, 304",
        "stainless steel",
        2.4,
        0.00130,
        749,
        1400,
        72.00,
        4.03,
        30.05,
    ),
    Material(
        "steel_1020_2013",
        "Steel, 1020 (2013 constants)",
        "steel",
        10.8,
        0.00377,
        245,
        1510,
        15.90,
        3.80,
        18.39,
        source=_TABLE_1_NEW,
    ),
    Material(
        "aluminium_clad_steel_wire_2013",
        "Aluminium-clad steel wire (2013 constants)",
        "aluminium-clad steel",
        20.3,
        0.00360,
        258,
        657,
        8.48,
        3.561,
        17.26,
        source=_TABLE_1_NEW,
    ),
    Material(
        "mild_steel",
        "Mild steel (Indian utility practice)",
        "steel",
        11.5,
        0.00423,
        216.4,
        1510,
        15.00,
        3.75,
        None,
        source="common practice; the constants behind 12.15 I sqrt(t) (welded) and 15.7 I sqrt(t) (bolted)",
    ),
)

MATERIALS: Mapping[str, Material] = MappingProxyType({m.key: m for m in _ROWS})
"""Materials of IEEE Std 80 Table 1 by key. Constants of the 2000 edition unless the key ends in 2013."""


@dataclass(frozen=True, slots=True)
class EnMetal:
    """Constants of a metal in EN 50522 Annex D.

    Attributes
    ----------
    metal : str
    beta_c : float
        Reciprocal of the temperature coefficient at 0 degC. [degC]
    k_as_per_mm2 : float
        [A sqrt(s)/mm2]
    max_temperature_c : float
        Usual final temperature of a bare conductor. [degC]
    source, evidence : str
    """

    metal: str
    beta_c: float
    k_as_per_mm2: float
    max_temperature_c: float
    source: str = "EN 50522, Annex D, Table D.1"
    evidence: str = _CHECKED


EN_METALS: Mapping[str, EnMetal] = MappingProxyType(
    {
        m.metal: m
        for m in (
            EnMetal("copper", 234.5, 226.0, 300.0),
            EnMetal("aluminium", 228.0, 148.0, 300.0),
            EnMetal("steel", 202.0, 78.0, 300.0),
        )
    }
)
"""EN 50522 Annex D by metal; the usual final temperature of 300 degC is from memory."""


@dataclass(frozen=True, slots=True)
class JointLimit:
    """Highest final temperature a kind of joint bears.

    Attributes
    ----------
    joint : str
    limit_c : float or None
        Limit used unless a higher one is proved; None: the conductor's own limit holds. [degC]
    proved_limit_c : float or None
        Highest limit that a type test may prove; None: that of ``limit_c``. [degC]
    source, evidence : str
    """

    joint: str
    limit_c: float | None
    proved_limit_c: float | None = None
    source: str = "IEEE Std 80-2000, clause 11.3"
    evidence: str = "from memory"


JOINT_LIMITS: Mapping[str, JointLimit] = MappingProxyType(
    {
        j.joint: j
        for j in (
            JointLimit("exothermic", None),
            JointLimit("welded", None, source="common practice: a full weld bears what the conductor bears"),
            JointLimit("brazed", 450.0),
            JointLimit("compression", 250.0, 350.0),
            JointLimit("bolted", 250.0, 350.0),
        )
    }
)
"""Joint limits by the name a conductor request uses."""
