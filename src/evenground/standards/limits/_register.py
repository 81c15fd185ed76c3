"""One function per standard: from a case to its limits. The register lists them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import MappingProxyType

from evenground.errors import OutOfRangeError
from evenground.provenance import recording
from evenground.standards import ieee80_limits as ieee80
from evenground.standards._checks import need
from evenground.standards.en50522 import touch_voltage_with_resistance
from evenground.standards.limits import national
from evenground.standards.limits._ground import ground, standing_resistance
from evenground.standards.limits.curves import BRITISH_FOOTING, CURVES, TimeCurve, lookup
from evenground.standards.limits.derived import body_current, current_of, derived_limits
from evenground.standards.limits.en_flow import step_threshold
from evenground.standards.limits.shapes import LimitCase, Limits, StandardLimits, options_in_words

__all__ = ["STANDARDS", "tolerable"]

_COVER = ("surface_resistivity_ohm_m", "surface_thickness_m", "surface_factor")
_BODY = ("body", "body_percentile", "current", "paths", "combine", "step_path")


def _ieee(mass_kg: int, usual: str, clause: str) -> Callable[[LimitCase], Limits]:
    def limits(case: LimitCase) -> Limits:
        constant = ieee80.body_constant(mass_kg)
        with recording(f"{case.standard}, {case.shock_time_s:g} s") as sheet:
            factor, rho = ground(case, usual)
            touch = ieee80.tolerable_touch_voltage(factor, rho, constant, case.shock_time_s)
            step = ieee80.tolerable_step_voltage(factor, rho, constant, case.shock_time_s)
            metal = ieee80.metal_to_metal_touch_voltage(constant, case.shock_time_s)
        return Limits(
            case.standard,
            touch,
            step,
            source="IEEE Std 80, Eq. (8), (9), (27), (29) to (34)",
            clause=clause,
            evidence="from memory, cross-checked",
            notes=("body 1000 ohm, shoes and gloves not counted",),
            outside=sheet.outside,
            metal_v=metal,
            surface_factor=factor,
        )

    return limits


def _read(curve: TimeCurve, time_s: float) -> tuple[float | None, tuple[str, ...]]:
    """The limit of a curve, or None with the reason."""
    try:
        return lookup(curve, time_s), ()
    except OutOfRangeError as error:
        return None, (str(error),)


def _notes_of(curve: TimeCurve) -> tuple[str, ...]:
    return (curve.note,) if curve.note else ()


def _en(key: str, step: str) -> Callable[[LimitCase], Limits]:
    curve = CURVES[key]

    def limits(case: LimitCase) -> Limits:
        notes = list(_notes_of(curve))
        evidence = curve.evidence
        with recording(f"{case.standard}, {case.shock_time_s:g} s") as sheet:
            touch, reasons = _read(curve, case.shock_time_s)
            if touch is not None and case.shock_time_s > curve.points[-1][0]:
                evidence = "from memory"
            if touch is not None:
                notes.append(step.format(threshold=step_threshold(touch)))
            if touch is not None and (case.covered or case.footwear_ohm is not None):
                touch, reasons, more = _with_resistance(case, touch)
                notes += more
                evidence = "from memory"
            else:
                notes.append("no additional resistance: feet and hands bare, standing surface not counted")
        return Limits(
            case.standard,
            touch,
            None,
            source=curve.source,
            clause=curve.source,
            evidence=evidence,
            notes=tuple(notes),
            outside=tuple(dict.fromkeys((*reasons, *sheet.outside))),
        )

    return limits


def _with_resistance(case: LimitCase, touch_v: float) -> tuple[float | None, tuple[str, ...], list[str]]:
    """U_vTp with shoes and standing surface: (limit, reasons, notes)."""
    curve = current_of(case)
    try:
        current = body_current(curve, case.shock_time_s)
    except OutOfRangeError as error:
        return None, (f"additional resistance needs a body current: {error}",), []
    factor, rho = ground(case, "none")
    shoe = case.footwear_ohm or 0.0
    extra = standing_resistance(shoe, factor, rho)
    notes = [
        f"U_vTp with R_a = {extra:.0f} ohm at I_B = {1000.0 * current:.0f} mA ({curve.note or curve.title})"
    ]
    if case.covered and factor == 1.0:
        reduced = ieee80.surface_factor(case.native_resistivity_ohm_m, rho, case.surface_thickness_m)
        lower = touch_v + (shoe / 2.0 + 1.5 * reduced * rho) * current
        notes.append(
            f"the standard does not count the thickness of the cover; with a layer factor of {reduced:.2f} "
            f"the limit would be {lower:.0f} V"
        )
    return touch_voltage_with_resistance(touch_v, extra, current), (), notes


def _plain(key: str, remark: str) -> Callable[[LimitCase], Limits]:
    """A table that knows no cover and no shoes."""
    curve = CURVES[key]

    def limits(case: LimitCase) -> Limits:
        touch, reasons = _read(curve, case.shock_time_s)
        notes = (*_notes_of(curve), remark)
        return Limits(
            case.standard, touch, None, curve.source, curve.source, curve.evidence, notes, outside=reasons
        )

    return limits


def _rail(case: LimitCase) -> Limits:
    curve = CURVES["en50122_short" if case.shock_time_s < 0.7 else "en50122_long"]
    touch, reasons = _read(curve, case.shock_time_s)
    notes = (*_notes_of(curve), "below 0.7 s the table counts shoes, from 0.7 s on it does not")
    return Limits(
        case.standard, touch, None, curve.source, curve.source, curve.evidence, notes, outside=reasons
    )


def _spain(case: LimitCase) -> Limits:
    curve = CURVES["itc_rat_13"]
    touch = step = None
    shoe = national.ITC_SHOE_OHM if case.footwear_ohm is None else case.footwear_ohm
    with recording(f"{case.standard}, {case.shock_time_s:g} s") as sheet:
        factor, rho = ground(case, "0.106")
        applied, reasons = _read(curve, case.shock_time_s)
        if applied is not None:
            touch = national.itc_touch_voltage(applied, shoe, factor, rho)
            step = national.itc_step_voltage(applied, shoe, factor, rho)
    return Limits(
        case.standard,
        touch,
        step,
        source=curve.source,
        clause="ITC-RAT 13, clause 1.1",
        evidence=curve.evidence,
        notes=(f"body 1000 ohm, shoes {shoe:.0f} ohm each", *_notes_of(curve)),
        outside=(*reasons, *sheet.outside),
        surface_factor=factor,
    )


def _china_effective(case: LimitCase) -> Limits:
    with recording(f"{case.standard}, {case.shock_time_s:g} s") as sheet:
        factor, rho = ground(case, "empirical")
        touch = national.gb_touch_effective(factor, rho, case.shock_time_s)
        step = national.gb_step_effective(factor, rho, case.shock_time_s)
    return _china(case, touch, step, factor, sheet.outside, "networks with effectively earthed neutral")


def _china_resonant(case: LimitCase) -> Limits:
    with recording(f"{case.standard}, {case.shock_time_s:g} s") as sheet:
        factor, rho = ground(case, "empirical")
        touch, step = national.gb_touch_resonant(factor, rho), national.gb_step_resonant(factor, rho)
    return _china(case, touch, step, factor, sheet.outside, "the fault may stay; the time does not count")


def _china(
    case: LimitCase, touch_v: float, step_v: float, factor: float, outside: tuple[str, ...], note: str
) -> Limits:
    return Limits(
        case.standard,
        touch_v,
        step_v,
        source="GB/T 50065, permissible touch and step voltage",
        clause="GB/T 50065, permissible touch and step voltage",
        evidence="from memory",
        notes=(note,),
        outside=outside,
        surface_factor=factor,
    )


def _britain(case: LimitCase) -> Limits:
    """By footing when it is stated or plain soil; any other case has no table."""
    footing = case.footing or (None if case.covered else "soil")
    need(
        footing is None or footing in BRITISH_FOOTING, f"footing must be one of {', '.join(BRITISH_FOOTING)}"
    )
    notes = ["step voltage with shoes on: not foreseeable to be exceeded, from memory"]
    source = "national annex to BS EN 50522 and ENA TS 41-24, permissible touch voltage"
    touch: float | None = None
    if footing is None:
        reasons: tuple[str, ...] = (
            "the table goes by footing: state 'chippings_75mm', 'chippings_150mm' or 'soil'",
        )
    else:
        curve = BRITISH_FOOTING[footing]
        touch, reasons = _read(curve, case.shock_time_s)
        notes += [curve.title, curve.note]
    return Limits(case.standard, touch, None, source, source, "from memory", tuple(notes), outside=reasons)


def _free(case: LimitCase) -> Limits:
    """Limits from a body, a current and paths that the user states; nothing is taken for granted."""
    for name in ("body", "current", "paths"):
        need(getattr(case, name) is not None, f"the free case needs {name}")
    return derived_limits(case)


def _entries() -> tuple[StandardLimits, ...]:
    step_2010 = "no step limit: taken as kept where touch is kept (from memory)"
    step_2022 = "step has to be looked at only where U_E is above {threshold:.0f} V (20 U_Tp)"
    dalziel = "body current k/sqrt(t), body 1000 ohm"
    clause = "IEEE Std 80-2013, clauses 6 and 8"
    cbip = "CBIP publication 223 and 311 with IEEE Std 80, 50 kg; IS 3043 for the rest"
    return (
        StandardLimits(
            "ieee80_50kg",
            "IEEE Std 80, 50 kg",
            "2013",
            "USA",
            dalziel,
            _ieee(50, "empirical", clause),
            _COVER,
        ),
        StandardLimits(
            "ieee80_70kg",
            "IEEE Std 80, 70 kg",
            "2013",
            "USA",
            dalziel,
            _ieee(70, "empirical", clause),
            _COVER,
        ),
        StandardLimits(
            "en50522_2010",
            "EN 50522 and IEC 61936-1",
            "2010",
            "Europe",
            "published curve U_Tp; body 50 %, fibrillation 5 %",
            _en("en50522_2010", step_2010),
            (*_COVER, "footwear_ohm", "current"),
        ),
        StandardLimits(
            "en50522_2022",
            "EN 50522 and IEC 61936-1",
            "2022",
            "Europe",
            "published curve U_Tp; body 50 %, fibrillation 5 %",
            _en("en50522_2022", step_2022),
            (*_COVER, "footwear_ohm", "current"),
        ),
        StandardLimits(
            "hd637_s1",
            "HD 637 S1 (superseded)",
            "1999",
            "Europe",
            "published curve",
            _plain("hd637_s1", "step is not limited in the curve"),
            (),
        ),
        StandardLimits(
            "iec60479_derived",
            "worked out from IEC TS 60479-1",
            "2005",
            "international",
            "body impedance, paths, curve c2; feet bare on the surface unless shoes are stated",
            derived_limits,
            (*_COVER, "footwear_ohm", *_BODY),
        ),
        StandardLimits(
            "is3043_cbip",
            "IS 3043 with CBIP practice",
            "2018",
            "India",
            dalziel,
            _ieee(50, "empirical", cbip),
            _COVER,
        ),
        StandardLimits(
            "is3043_cbip_1986",
            "CBIP practice with the layer factor of 1986",
            "1986",
            "India",
            dalziel + ", older layer factor",
            _ieee(50, "series 1986", cbip),
            _COVER,
        ),
        StandardLimits(
            "bs7430_na",
            "BS 7430 and the national annex to BS EN 50522",
            "2011",
            "United Kingdom",
            "table by footing, shoes on",
            _britain,
            ("footing",),
        ),
        StandardLimits(
            "gb50065_effective",
            "GB/T 50065, effectively earthed",
            "2011",
            "China",
            "0.116 A sqrt(s), body 1500 ohm",
            _china_effective,
            _COVER,
        ),
        StandardLimits(
            "gb50065_resonant",
            "GB/T 50065, not effectively earthed",
            "2011",
            "China",
            "33 mA, body 1500 ohm",
            _china_resonant,
            _COVER,
        ),
        StandardLimits(
            "itc_rat_13",
            "ITC-RAT 13 (RD 337/2014)",
            "2014",
            "Spain",
            "table of applied touch voltage, shoes 2000 ohm each",
            _spain,
            (*_COVER, "footwear_ohm"),
        ),
        StandardLimits(
            "en50122", "EN 50122-1, railways", "2011", "Europe", "table of touch voltage", _rail, ()
        ),
        StandardLimits(
            "france_1988_dry",
            "French decree of 15 December 1988, dry",
            "1988",
            "France",
            "table, low voltage",
            _plain("france_1988_dry", "low voltage: for comparison only"),
            (),
        ),
        StandardLimits(
            "france_1991",
            "French decree of 25 October 1991",
            "1991",
            "France",
            "table, low voltage",
            _plain("france_1991", "low voltage: for comparison only"),
            (),
        ),
        StandardLimits(
            "free",
            "free case: body, current and paths stated by the user",
            "",
            "",
            "stated",
            _free,
            (*_COVER, "footwear_ohm", *_BODY),
        ),
    )


STANDARDS = MappingProxyType({entry.key: entry for entry in _entries()})
"""Every standard by key."""


def tolerable(case: LimitCase) -> Limits:
    """Tolerable voltages of a case by its standard.

    Options of the case that the standard has no use for are named in ``notes``; breaches of a range are
    named in ``outside``, and where there is no value at all the voltage is None.

    Raises
    ------
    OutOfRangeError
        For an unknown standard or option, or an impossible value.
    """
    need(case.standard in STANDARDS, f"unknown standard {case.standard!r}; there are {', '.join(STANDARDS)}")
    entry = STANDARDS[case.standard]
    limits = entry.function(case)
    unused = [name for name in case.stated() if name not in entry.options]
    if not unused:
        return limits
    return replace(limits, notes=(*limits.notes, f"not used by this standard: {options_in_words(unused)}"))
