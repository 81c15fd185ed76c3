"""Plausible ranges of the values of a project file, and slips of unit that explain a strange one.

The ranges are common practice for earthing systems of substations and plants. A value outside its
plausible range is a warning; it is an error when another unit would make it usual, or when it is
beyond what the program accepts.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf, isfinite

from evenground.errors import Finding, Severity
from evenground.project._explain import MOST_FINDINGS
from evenground.project._origins import Leaf
from evenground.project._source import Source
from evenground.project._words import with_unit

__all__ = ["RULES", "Rule", "slip_findings"]

Range = tuple[float, float]
Slip = tuple[float, str]

MM: Slip = (1e-3, "millimetres")
CM: Slip = (1e-2, "centimetres")
INCH: Slip = (0.0254, "inches")
MILLI: Slip = (1e-3, "milliseconds")


@dataclass(frozen=True, slots=True)
class Rule:
    """What is expected of one field.

    Attributes
    ----------
    usual : (low, high)
        Where a value read in another unit must fall to be called a slip.
    plausible : (low, high)
        Outside: at least a warning.
    hard : (low, high)
        Outside: always an error.
    slips : tuple of (factor, unit)
        The value times the factor is the value in the unit of the key, if it had been written in ``unit``.
    sure : bool
        False when a slip is only a warning, since the value as written does occur.
    """

    usual: Range
    plausible: Range
    hard: Range = (0.0, inf)
    slips: tuple[Slip, ...] = ()
    sure: bool = True


_DEPTH = Rule((0.3, 1.5), (0.2, 5.0), (0.02, 50.0), (MM, CM, INCH))
_SPACING = Rule((1.0, 50.0), (0.5, 200.0), (0.05, 5000.0), (MM, CM))
_ROD_LENGTH = Rule((1.0, 30.0), (0.5, 100.0), (0.05, 1000.0), (MM, CM))
_DIAMETER = Rule(
    (5.0, 60.0), (3.0, 300.0), (0.5, 3000.0), ((1e3, "metres"), (25.4, "inches"), (10.0, "centimetres"))
)
_STRIP = Rule((1.5, 120.0), (1.0, 300.0), (0.1, 3000.0), ((1e3, "metres"), (25.4, "inches")))
_AREA = Rule(
    (10.0, 1000.0), (6.0, 5000.0), (0.5, 1e5), ((1e6, "m2"), (100.0, "cm2"), (5.067e-4, "circular mils"))
)
_TIME = Rule(
    (0.04, 3.0), (0.02, 10.0), (0.001, 60.0), ((0.02, "cycles of 50 Hz"), MILLI, (1 / 60, "cycles of 60 Hz"))
)
_SOIL = Rule((10.0, 1e4), (1.0, 1e5), (0.01, 1e8), ((1e3, "kilo-ohm metres"), (1e-2, "ohm centimetres")))
_AREA_LENGTH = Rule((0.5, 20.0), (0.1, 50.0), (0.0, 5000.0), (MM, CM))

RULES: dict[tuple[str, ...], Rule] = {
    ("frequency_hz",): Rule((16.0, 60.0), (16.0, 60.0), (10.0, 400.0)),
    ("soil", "traverses", "instrument_resolution_ohm"): Rule((1e-5, 0.1), (1e-6, 1.0)),
    ("soil", "traverses", "readings", "spacing_m"): Rule((0.2, 200.0), (0.05, 1000.0), (0.01, 1e5), (MM, CM)),
    ("soil", "traverses", "readings", "half_current_spacing_m"): Rule(
        (0.5, 1000.0), (0.1, 3000.0), (0.01, 1e5), (MM, CM)
    ),
    ("soil", "traverses", "readings", "half_potential_spacing_m"): Rule(
        (0.05, 200.0), (0.02, 1000.0), (0.005, 1e5), (MM, CM)
    ),
    ("soil", "traverses", "readings", "probe_depth_m"): Rule(
        (0.02, 1.0), (0.005, 3.0), (0.0, 50.0), (CM, MM)
    ),
    ("soil", "traverses", "readings", "rod_length_m"): Rule(
        (0.3, 30.0), (0.1, 100.0), (0.02, 500.0), (CM, MM)
    ),
    ("soil", "traverses", "rod_diameter_mm"): _DIAMETER,
    ("soil", "traverses", "readings", "resistance_ohm"): Rule((1e-2, 1e3), (1e-4, 1e5)),
    ("soil", "traverses", "readings", "voltage_v"): Rule((1e-3, 100.0), (1e-6, 2000.0)),
    ("soil", "traverses", "readings", "current_a"): Rule(
        (1e-3, 5.0), (1e-5, 30.0), (0.0, inf), ((1e-3, "milliamperes"),), sure=False
    ),
    ("soil", "traverses", "readings", "apparent_resistivity_ohm_m"): _SOIL,
    ("soil", "model", "given", "resistivities_ohm_m"): _SOIL,
    ("soil", "model", "given", "thicknesses_m"): Rule((0.2, 50.0), (0.05, 500.0), (0.01, 1e4), (MM, CM)),
    ("faults", "voltage_kv"): Rule((0.4, 1000.0), (0.2, 1200.0), (0.02, 2000.0), ((1e-3, "volts"),)),
    ("faults", "current_ka"): Rule((0.1, 100.0), (0.001, 100.0), (0.0, 500.0), ((1e-3, "amperes"),)),
    ("faults", "current_a"): Rule(
        (100.0, 1e5), (50.0, 1e5), (0.0, 5e5), ((1e3, "kiloamperes"), (1e-3, "milliamperes")), sure=False
    ),
    ("faults", "x_over_r"): Rule((0.5, 80.0), (0.05, 200.0)),
    ("faults", "shock_time_s"): _TIME,
    ("faults", "thermal_time_s"): Rule(_TIME.usual, _TIME.plausible, (0.001, 1e4), _TIME.slips),
    ("faults", "growth_factor"): Rule((1.0, 2.0), (1.0, 3.0), slips=((1e-2, "percent"),)),
    ("conductors", "*", "diameter_mm"): _DIAMETER,
    ("conductors", "*", "width_mm"): _STRIP,
    ("conductors", "*", "thickness_mm"): _STRIP,
    ("conductors", "*", "area_mm2"): _AREA,
    ("conductors", "*", "min_area_mm2"): _AREA,
    ("conductors", "*", "initial_temperature_c"): Rule((-20.0, 80.0), (-40.0, 120.0), (-100.0, 1000.0)),
    ("conductors", "*", "max_temperature_c"): Rule((80.0, 1100.0), (80.0, 1600.0), (0.0, 3000.0)),
    ("conductors", "*", "corrosion", "rate_mm_per_year"): Rule(
        (0.0005, 0.2), (0.0, 1.0), (0.0, 20.0), ((1e-3, "micrometres per year"),)
    ),
    ("conductors", "*", "corrosion", "life_years"): Rule((10.0, 60.0), (0.0, 120.0)),
    ("conductors", "*", "corrosion", "area_percent"): Rule(
        (5.0, 60.0), (1.0, 100.0), (0.0, 1000.0), ((100.0, "a fraction"),), sure=False
    ),
    ("mats", "depth_m"): _DEPTH,
    ("mats", "spacing_m"): _SPACING,
    ("mats", "spacing_x_m"): _SPACING,
    ("mats", "spacing_y_m"): _SPACING,
    ("mats", "rods", "spacing_m"): _SPACING,
    ("mats", "rods", "length_m"): _ROD_LENGTH,
    ("mats", "rods", "diameter_mm"): _DIAMETER,
    ("rods", "length_m"): _ROD_LENGTH,
    ("rods", "diameter_mm"): _DIAMETER,
    ("rods", "top_depth_m"): Rule((0.1, 1.5), (0.0, 5.0), (0.0, 50.0), (MM, CM, INCH)),
    ("runs", "depth_m"): _DEPTH,
    ("surface", "thickness_m"): Rule((0.03, 0.5), (0.02, 1.0), (0.0, 2.0), (MM, CM, INCH)),
    ("surface", "resistivity_ohm_m"): Rule(
        (500.0, 2e4), (10.0, 1e7), (0.01, 1e9), ((1e3, "kilo-ohm metres"), (1e-2, "ohm centimetres"))
    ),
    ("assessment", "reach_m"): Rule((0.5, 2.0), (0.5, 3.0), (0.05, 20.0), (MM, CM)),
    ("assessment", "touch_outside_m"): _AREA_LENGTH,
    ("assessment", "step_outside_m"): Rule((0.5, 50.0), (0.1, 200.0), (0.0, 5000.0), (MM, CM)),
    ("assessment", "raster_m"): Rule((0.1, 5.0), (0.02, 20.0), (0.001, 1000.0), (MM, CM)),
    ("assessment", "segment_m"): Rule((0.2, 20.0), (0.05, 100.0), (0.001, 1e4), (MM, CM)),
    ("assessment", "gpr_limit_v"): Rule(
        (200.0, 2e4), (50.0, 5e4), (0.0, 1e6), ((1e3, "kilovolts"),), sure=False
    ),
    ("assessment", "resistance_target_ohm"): Rule((0.05, 30.0), (0.01, 1000.0), (0.0, 1e6)),
    ("assessment", "native_resistivity_ohm_m"): _SOIL,
    **{
        (where, *path): rule
        for where in ("assessment", "surface")
        for path, rule in {
            ("footwear_ohm",): Rule(
                (500.0, 1e6), (100.0, 1e8), (0.0, 1e9), ((1e3, "kilo-ohms"),), sure=False
            ),
            ("person", "body_ohm"): Rule((500.0, 3000.0), (300.0, 1e4), (50.0, 1e6), ((1e3, "kilo-ohms"),)),
            ("person", "constant_as"): Rule((0.08, 0.25), (0.01, 1.0), (0.0, 10.0), ((1e-3, "mA"),)),
            ("exposure", "contact_duration_s"): Rule((0.5, 600.0), (0.1, 86400.0), (0.0, 3.2e7)),
            ("exposure", "faults_per_year"): Rule((1e-3, 50.0), (1e-6, 1000.0), (0.0, 1e4)),
        }.items()
    },
}
"""Names on the way to a field (list indices left out, ``*`` for a free key) -> what is expected."""


def slip_findings(source: Source, leaves: Iterable[Leaf]) -> list[Finding]:
    """Findings for every number outside its plausible range."""
    found: list[Finding] = []
    for leaf in leaves:
        value = leaf.node.value
        if isinstance(value, bool) or not isinstance(value, int | float):
            continue
        rule = RULES.get(_names(leaf))
        if rule is None or not isfinite(value) or value == 0:
            continue
        finding = _judge(source, leaf, float(value), rule)
        if finding is not None:
            found.append(finding)
            if len(found) >= MOST_FINDINGS:
                break
    return found


def _names(leaf: Leaf) -> tuple[str, ...]:
    names = [part for part in leaf.path if isinstance(part, str)]
    if len(names) > 1 and names[0] == "conductors":
        names[1] = "*"
    return tuple(names)


def _judge(source: Source, leaf: Leaf, value: float, rule: Rule) -> Finding | None:
    low, high = rule.plausible
    if low <= value <= high:
        return None
    key = next(str(part) for part in reversed(leaf.path) if isinstance(part, str))
    kelvin = _kelvin(key, value)
    slips = [
        f"{unit}: {with_unit(f'{value * factor:.4g}', key)}"
        for factor, unit in rule.slips
        if rule.usual[0] <= value * factor <= rule.usual[1] * (1 + 1e-9)
    ]
    slips += [kelvin] if kelvin else []
    impossible = not rule.hard[0] <= value <= rule.hard[1]
    error = impossible or (bool(slips) and rule.sure)
    advice = f"usual is {_span(rule.usual)}"
    if slips:
        advice = f"looks like {' or '.join(slips[:2])}? {advice}"
    return source.finding(
        "unit-slip" if slips else "value-implausible",
        f"{with_unit(leaf.node.text, key)} is not plausible for {key}",
        f"{advice} {with_unit('', key).strip()}".strip(),
        line=leaf.node.line,
        column=leaf.node.column,
        path=leaf.path,
        severity=Severity.ERROR if error else Severity.WARNING,
    )


def _kelvin(key: str, value: float) -> str:
    celsius = value - 273.15
    if key == "initial_temperature_c" and 250 <= value <= 360:
        return f"kelvin: {celsius:.4g} degC"
    return ""


def _span(bounds: Range) -> str:
    return f"{bounds[0]:g} to {bounds[1]:g}"
