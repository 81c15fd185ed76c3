"""Field readings to apparent resistivities: recomputed, cross-checked, and flagged where doubtful."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import isfinite

from evenground.errors import Finding, InputError, Severity
from evenground.model.soil import ApparentReading, ArrayKind, SoilReading, Traverse
from evenground.soil._arrangement import Arrangement, arrangement_of, lengths_needed, order_fault
from evenground.soil._arrays import POINT_DEPTH_PER_LENGTH

__all__ = ["HIGHEST_OHM_M", "LOWEST_OHM_M", "apparent_resistivity", "process_readings"]

AGREEMENT = 0.02
"""Values stated twice must agree within this share; rounding in a field book stays below it."""
CONTRADICTION = 0.25
"""A stated apparent resistivity further off than this is an error: it belongs to another geometry or unit."""
LOWEST_OHM_M, HIGHEST_OHM_M = 0.1, 1e5
"""No survey of an earthing site gives values outside; sea water has about 0.2 ohm m."""
DEEPEST_SHARE = 1.0 / 20.0
"""Probes not deeper than a/20 count as points at the surface (common practice; MIL-HDBK-419A)."""
COARSE_SHARE = 0.05
"""Resolution of the instrument, as a share of the resistance read, above which the reading is coarse."""

_SLIPS = {
    ArrayKind.WENNER: (
        (3.0, "AB looks given for the spacing a (AB = 3a)"),
        (1.0 / 3.0, "the stated value was computed with AB instead of a"),
        (1.5, "AB/2 looks given for the spacing a (AB/2 = 1.5a)"),
        (1.0 / 1.5, "the stated value was computed with AB/2 instead of a"),
    ),
    ArrayKind.SCHLUMBERGER: (
        (2.0, "AB and MN look given for AB/2 and MN/2"),
        (0.5, "the stated value was computed with AB and MN for AB/2 and MN/2, or MN was given for MN/2"),
        (4.0, "AB looks given for AB/2"),
    ),
}
_UNIT_SLIPS = (
    (0.01, "the stated value looks like ohm cm"),
    (1.0 / 0.3048, "spacings look like feet"),
    (0.3048, "the stated value was computed with spacings in feet"),
)


def apparent_resistivity(reading: SoilReading, array: ArrayKind | str) -> float:
    """Apparent resistivity of one reading. [ohm m]

    From the resistance, else from voltage over current, else as stated. The driven length of the probes is
    taken into account through points at 0.575 of it; Schlumberger readings keep their finite MN.

    Parameters
    ----------
    reading : SoilReading
    array : ArrayKind or its name

    Raises
    ------
    InputError
        With every finding, when the reading is incomplete or its values are impossible.
    """
    row, findings = _process(reading, ArrayKind(array), "reading", None)
    errors = [f for f in findings if f.severity is Severity.ERROR]
    if errors or row is None:
        raise InputError(errors)
    return row.apparent_resistivity_ohm_m


def process_readings(
    traverses: Iterable[Traverse],
) -> tuple[tuple[ApparentReading, ...], tuple[Finding, ...]]:
    """Apparent resistivities of all readings, and everything that is wrong or doubtful about them.

    Parameters
    ----------
    traverses : iterable of Traverse

    Returns
    -------
    readings : tuple of ApparentReading
        In the order given; a reading that can not be computed is missing and has a finding.
    findings : tuple of Finding
        Errors (the data contradict themselves or are impossible) and warnings. Readings with
        ``use=False`` give warnings only.
    """
    rows: list[ApparentReading] = []
    findings: list[Finding] = []
    for traverse in traverses:
        array = ArrayKind(traverse.array)
        for reading in traverse.readings:
            row, found = _process(reading, array, traverse.name, traverse.instrument_resolution_ohm)
            findings += found if reading.use else [_softened(f) for f in found]
            if row is not None:
                rows.append(row)
    return tuple(rows), tuple(findings)


def _softened(finding: Finding) -> Finding:
    return Finding(
        finding.code, f"{finding.message} (not used)", finding.advice, Severity.WARNING, finding.path
    )


def _process(
    reading: SoilReading, array: ArrayKind, traverse: str, resolution_ohm: float | None
) -> tuple[ApparentReading | None, list[Finding]]:
    findings = _impossible(reading, array, traverse)
    if findings:
        return None, findings
    arrangement = arrangement_of(reading, array)
    place = f"{traverse}, {arrangement.words}"
    resistance, findings = _resistance(reading, arrangement, place)
    depth = reading.probe_depth_m or 0.0
    rho = arrangement.resistivity(resistance, POINT_DEPTH_PER_LENGTH * depth)
    if not LOWEST_OHM_M <= rho <= HIGHEST_OHM_M:
        findings.append(_out_of_range(reading, place, rho))
    flags, doubts = _doubts(reading, arrangement, place, resistance, resolution_ohm)
    findings += doubts
    flags += [f.message.removeprefix(f"{place}: ") for f in findings if f.code == "soil-stated-resistivity"]
    row = ApparentReading(
        traverse=traverse,
        array=array,
        position_m=arrangement.position_m,
        half_potential_m=arrangement.half_potential_m,
        resistance_ohm=resistance,
        apparent_resistivity_ohm_m=rho,
        probe_depth_m=depth,
        used=reading.use,
        flags=tuple(flags),
        path=reading.path,
        positions_m=arrangement.positions_m,
        rod_diameter_m=reading.rod_diameter_m if array is ArrayKind.DRIVEN_ROD else None,
    )
    return row, findings


def _impossible(reading: SoilReading, array: ArrayKind, traverse: str) -> list[Finding]:
    """Findings that make the reading impossible to compute."""
    needed = lengths_needed(array)
    found = [
        Finding(
            "soil-spacing-missing",
            f"{traverse}: a {array.value} reading without {name}",
            f"give {name} in m",
            path=reading.path,
        )
        for name in needed
        if getattr(reading, name) is None
    ]
    for name in (*needed, "resistance_ohm", "voltage_v", "current_a", "apparent_resistivity_ohm_m"):
        value = getattr(reading, name)
        if isinstance(value, float | int) and not (isfinite(value) and value > 0):
            advice = "give a finite number above 0"
            if name in ("resistance_ohm", "voltage_v", "current_a"):
                advice += (
                    "; a negative reading means swapped leads or stray current: repeat it or leave it out"
                )
            found.append(Finding("soil-value", f"{traverse}: {name} is {value:g}", advice, path=reading.path))
    if (reading.voltage_v is None) != (reading.current_a is None):
        found.append(
            Finding(
                "soil-value",
                f"{traverse}: voltage and current must come together",
                "give both, or the resistance",
                path=reading.path,
            )
        )
    elif all(
        v is None for v in (reading.voltage_v, reading.resistance_ohm, reading.apparent_resistivity_ohm_m)
    ):
        found.append(
            Finding(
                "soil-value",
                f"{traverse}: a reading without a measured value",
                "give the resistance, or voltage and current, or the apparent resistivity",
                path=reading.path,
            )
        )
    return found or _geometry(reading, array, traverse)


def _geometry(reading: SoilReading, array: ArrayKind, traverse: str) -> list[Finding]:
    arrangement = arrangement_of(reading, array)
    place = f"{traverse}, {arrangement.words}"
    fault = order_fault(arrangement)
    if fault is not None:
        return [Finding("soil-probe-order", f"{place}: {fault[0]}", fault[1], path=reading.path)]
    depth, shortest = reading.probe_depth_m, arrangement.shortest_m
    if depth is None or (isfinite(depth) and 0 <= depth < shortest):
        return []
    return [
        Finding(
            "soil-probe-depth",
            f"{place}: probes driven {depth:g} m",
            f"the driven length must be at least 0 and below the {shortest:g} m between probes; in cm?",
            path=reading.path,
        )
    ]


def _resistance(reading: SoilReading, arrangement: Arrangement, place: str) -> tuple[float, list[Finding]]:
    """The resistance to use, and findings of values stated twice that disagree."""
    findings: list[Finding] = []
    ratio = None
    if reading.voltage_v is not None and reading.current_a is not None:
        ratio = reading.voltage_v / reading.current_a
    resistance = reading.resistance_ohm if reading.resistance_ohm is not None else ratio
    stated = reading.apparent_resistivity_ohm_m
    length = reading.probe_depth_m or 0.0
    if resistance is None:
        assert stated is not None
        return stated / arrangement.factor(POINT_DEPTH_PER_LENGTH * length), findings
    if ratio is not None and abs(ratio / resistance - 1.0) > AGREEMENT:
        findings.append(
            Finding(
                "soil-ohms-law",
                f"{place}: resistance {resistance:.4g} ohm, but voltage over current is {ratio:.4g} ohm "
                f"({ratio / resistance - 1.0:+.1%})",
                "correct the one that is wrong or take it out",
                path=reading.path,
            )
        )
    if stated is not None:
        findings += _stated(reading, arrangement, place, resistance, stated)
    return resistance, findings


def _stated(
    reading: SoilReading, arrangement: Arrangement, place: str, resistance: float, stated: float
) -> list[Finding]:
    """The stated apparent resistivity against the recomputed one, by any usual treatment of probe depth."""
    length = reading.probe_depth_m or 0.0
    depths = (POINT_DEPTH_PER_LENGTH * length, 0.0, length)
    values = [arrangement.factor(depth) * resistance for depth in depths]
    off = min((v / stated - 1.0 for v in values), key=abs)
    if abs(off) <= AGREEMENT:
        return []
    severe = abs(off) > CONTRADICTION
    slips = (*_UNIT_SLIPS, *_SLIPS.get(arrangement.array, ()))
    hints = [text for factor, text in slips if abs(values[0] / stated / factor - 1.0) < 0.03]
    advice = "; ".join(hints) + "; " if severe and hints else ""
    advice += "correct the reading or take the stated value out" if severe else "the recomputed value is used"
    return [
        Finding(
            "soil-stated-resistivity",
            f"{place}: stated apparent resistivity {stated:.4g} ohm m, recomputed {values[0]:.4g} ohm m "
            f"({off:+.1%})",
            advice,
            Severity.ERROR if severe else Severity.WARNING,
            path=reading.path,
        )
    ]


def _out_of_range(reading: SoilReading, place: str, rho: float) -> Finding:
    return Finding(
        "soil-out-of-range",
        f"{place}: apparent resistivity {rho:.3g} ohm m",
        f"soil lies between {LOWEST_OHM_M:g} and {HIGHEST_OHM_M:g} ohm m; check the unit, the leads and the "
        "instrument, or leave the reading out",
        path=reading.path,
    )


def _doubts(
    reading: SoilReading,
    arrangement: Arrangement,
    place: str,
    resistance: float,
    resolution_ohm: float | None,
) -> tuple[list[str], list[Finding]]:
    """Flags and warnings that leave the reading usable."""
    doubts: Sequence[tuple[str, str, str]] = ()
    spacing = arrangement.shortest_m if arrangement.array is not ArrayKind.SCHLUMBERGER else None
    length = reading.probe_depth_m or 0.0
    if spacing is not None and length > spacing * DEEPEST_SHARE * (1 + 1e-9):
        text = f"probes driven {length:g} m deep, more than a/20 = {spacing * DEEPEST_SHARE:.3g} m"
        advice = "corrected as in uniform soil; in layered soil this can leave an error of several percent"
        doubts = (*doubts, ("soil-probe-deep", text, advice))
    if resolution_ohm is not None and resolution_ohm > COARSE_SHARE * resistance:
        text = f"resistance {resistance:.3g} ohm read with a resolution of {resolution_ohm:g} ohm"
        if resistance < resolution_ohm:
            advice = "this is below the resolution of the instrument: leave it out"
        else:
            advice = f"one step is {resolution_ohm / resistance:.0%} of the reading"
        doubts = (*doubts, ("soil-resolution", text, advice))
    findings = [
        Finding(code, f"{place}: {text}", advice, Severity.WARNING, reading.path)
        for code, text, advice in doubts
    ]
    return [text for _, text, _ in doubts], findings
