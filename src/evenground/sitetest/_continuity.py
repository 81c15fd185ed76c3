"""Continuity: what a sound net must read between risers, and what the readings say."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from evenground.errors import Finding, InputError, Severity
from evenground.model.electrode import Electrode
from evenground.model.metalwork import Metalwork
from evenground.model.sitetest import ContinuityItem, ContinuityReading, Riser
from evenground.model.study import Check, Place, Verdict
from evenground.sitetest._library import pass_value

__all__ = ["expected_continuity", "judge_joint", "read_continuity"]

_FACTOR = 3.0  # reading over expected that is looked into; common practice is a few times
_FLOOR_MOHM = 1.0  # contact of clamps and tails, common practice


def expected_continuity(
    electrode: Electrode,
    risers: Sequence[Riser],
    reference: str,
    *,
    metal_resistivity_ohm_m: float,
    area_mm2: Mapping[str, float],
    tail_area_mm2: float,
    snap_m: float = 0.25,
) -> tuple[ContinuityItem, ...]:
    """Direct-current resistance between a reference riser and every other one, through the metal alone.

    ``area_mm2`` gives the metal section of each kind of conductor in the electrode. The soil in parallel is
    left out, it carries next to nothing. The reading is looked into above three times the expected value,
    at least 1 milliohm more.

    Raises
    ------
    InputError
        When a riser is not on the metal, two share a name, the reference is unknown or a section is missing.
    """
    from scipy.sparse import coo_array, csc_array
    from scipy.sparse.linalg import splu

    kinds = {c.kind for c in electrode}
    _refuse(risers, reference, kinds - set(area_mm2))
    metal = Metalwork.from_conductors(electrode.conductors, cut_at_m=[r.at_m for r in risers], snap_m=snap_m)
    area = np.array([area_mm2[c.kind] for c in electrode])[metal.conductor] * 1e-6
    conductance = area / (metal_resistivity_ohm_m * metal.length_m)
    places = {r.name: (r, *metal.nearest_node(r.at_m)) for r in risers}
    off = [f"{n} is {gap:.2f} m off" for n, (_, _, gap) in places.items() if gap > snap_m]
    if off:
        raise InputError(f"risers must meet the metal: {', '.join(off)}")
    labels = metal.pieces_of_bonded_net()
    home = places[reference][1]
    inside = labels == labels[home]
    number = np.cumsum(inside) - 1
    kept = inside[metal.start]
    a, b, g = number[metal.start[kept]], number[metal.end[kept]], conductance[kept]
    count = int(inside.sum())
    matrix = coo_array(
        (np.concatenate([g, g, -g, -g]), (np.concatenate([a, b, a, b]), np.concatenate([a, b, b, a]))),
        shape=(count, count),
    ).tocsc()
    free = np.flatnonzero(np.arange(count) != number[home])
    factor = splu(csc_array(matrix[free][:, free])) if count > 1 else None
    place_in_free = {int(n): k for k, n in enumerate(free)}
    items = []
    for name, (riser, node, _) in places.items():
        if name == reference:
            continue
        through = math.inf
        if inside[node]:
            through = 0.0
            row = place_in_free.get(int(number[node]))
            if row is not None and factor is not None:
                unit = np.zeros(len(free))
                unit[row] = 1.0
                through = float(factor.solve(unit)[row])
        tails = riser.tail_m + places[reference][0].tail_m
        expected = 1e3 * (through + metal_resistivity_ohm_m * tails / (tail_area_mm2 * 1e-6))
        items.append(
            ContinuityItem(name, reference, expected, max(_FACTOR * expected, expected + _FLOOR_MOHM))
        )
    return tuple(items)


def _refuse(risers: Sequence[Riser], reference: str, missing: set[str]) -> None:
    names = [r.name for r in risers]
    findings = []
    if len(set(names)) != len(names):
        findings.append(Finding("risers-double", "two risers have the same name"))
    if reference not in names:
        findings.append(Finding("riser-reference", f"reference riser {reference!r} is not in the list"))
    if missing:
        findings.append(Finding("riser-section", f"no section given for {', '.join(sorted(missing))}"))
    if findings:
        raise InputError(findings)


def read_continuity(
    expected: Sequence[ContinuityItem],
    readings: Sequence[ContinuityReading],
    *,
    resolution_mohm: float = 0.001,
    least_current_a: float = 10.0,
) -> tuple[tuple[Check, ...], tuple[Finding, ...]]:
    """Every riser's reading against the expected value; a riser without reading is not decided.

    Raises
    ------
    InputError
        For a reading of a riser that is not in the plan.
    """
    by_name = {r.riser: r for r in readings}
    strange = set(by_name) - {e.riser for e in expected}
    if strange:
        raise InputError(f"readings of risers that are not in the plan: {', '.join(sorted(strange))}")
    checks, findings = [], []
    for item in expected:
        reading = by_name.get(item.riser)
        verdict, reason = _verdict(item, reading, resolution_mohm)
        if reading and reading.test_current_a is not None and reading.test_current_a < least_current_a:
            findings.append(
                Finding(
                    "continuity-low-current",
                    f"{item.riser}: read with {reading.test_current_a:g} A",
                    f"use {least_current_a:g} A or more: little current does not show broken strands",
                    Severity.WARNING,
                )
            )
        checks.append(
            Check(
                identity=f"continuity-{item.riser}",
                title=f"Continuity {item.reference} to {item.riser}",
                verdict=verdict,
                value=None if reading is None else reading.resistance_mohm,
                limit=item.investigate_mohm if math.isfinite(item.investigate_mohm) else None,
                unit="mohm",
                clause="three times the resistance of the sound net; common practice",
                method="continuity test",
                reason=reason,
            )
        )
    return tuple(checks), tuple(findings)


def _verdict(
    item: ContinuityItem, reading: ContinuityReading | None, resolution: float
) -> tuple[Verdict, str]:
    if reading is None:
        return Verdict.NOT_DECIDED, "not read"
    value = reading.resistance_mohm
    if not math.isfinite(value) or value < 0.0:
        return Verdict.NOT_DECIDED, f"impossible reading of {value} mohm"
    if value < resolution:
        return Verdict.NOT_DECIDED, f"below the instrument's resolution of {resolution:g} mohm"
    if not math.isfinite(item.expected_mohm):
        return Verdict.NOT_DECIDED, "by the layout this riser is not joined to the reference"
    if value < 0.5 * item.expected_mohm:
        return Verdict.NOT_DECIDED, (
            f"less than half of the expected {item.expected_mohm:.3g} mohm: another metal path is in parallel"
        )
    if value > pass_value("continuity-open").value:
        return Verdict.FAIL, "not connected"
    good = value <= item.investigate_mohm
    return (Verdict.PASS if good else Verdict.FAIL), f"expected {item.expected_mohm:.3g} mohm"


def judge_joint(
    joint_mohm: float, conductor_mohm: float, *, resolution_mohm: float = 1e-4, place: Place | None = None
) -> Check:
    """A joint against the same length of plain conductor, both read with the same probes. [milliohm]"""
    rule = pass_value("joint-ratio")
    verdict, reason, value = Verdict.NOT_DECIDED, "", None
    if (
        not (math.isfinite(joint_mohm) and math.isfinite(conductor_mohm))
        or min(joint_mohm, conductor_mohm) <= 0
    ):
        reason = "impossible reading"
    elif min(joint_mohm, conductor_mohm) < 5.0 * resolution_mohm:
        reason = f"within five steps of the instrument's resolution of {resolution_mohm:g} mohm"
    else:
        value = joint_mohm / conductor_mohm
        verdict = Verdict.PASS if value <= rule.value else Verdict.FAIL
    return Check(
        identity="joint-resistance",
        title="Joint over equal length of conductor",
        verdict=verdict,
        value=value,
        limit=rule.value,
        unit="-",
        place=place,
        clause=f"{rule.source} ({rule.evidence})",
        method="micro-ohmmeter",
        reason=reason,
    )
