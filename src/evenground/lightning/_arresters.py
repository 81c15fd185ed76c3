"""Arresters and their leads, and where masts feed the mat: checks and findings."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from evenground.errors import Finding, Severity
from evenground.model.electrode import Electrode
from evenground.model.lightning import ArresterPlace, MastConnection, TransformerPlace
from evenground.model.metalwork import Metalwork
from evenground.model.study import Check, Place, Verdict
from evenground.standards.iec62305 import earth_electrode_length
from evenground.standards.impulse import arrester_lead_voltage, arrester_protective_distance

Floats = NDArray[np.float64]

__all__ = ["MAST_TO_TRANSFORMER_M", "check_arresters", "check_masts"]

MAST_TO_TRANSFORMER_M = 15.0
"""Least way along the mat from a mast to a transformer: practice in China (from memory)."""

_NEAR_METAL_M = 0.5
_LONG_LEAD_M = 5.0  # common practice: as short and straight as the support allows


def check_arresters(places: Sequence[ArresterPlace]) -> tuple[tuple[Check, ...], tuple[Finding, ...]]:
    """Distance and lead voltage of every arrester, and how it is earthed."""
    checks: list[Check] = []
    findings: list[Finding] = []
    for place in places:
        checks += [_distance(place), _leads(place)]
        findings += _earthing(place)
    return tuple(checks), tuple(findings)


def _where(place: ArresterPlace) -> Place | None:
    return Place(*place.at_m, place.name) if place.at_m else None


def _distance(place: ArresterPlace) -> Check:
    value = place.distance_m + place.line_lead_m + place.earth_lead_m
    limit: float | None = None
    verdict, reason = Verdict.FAIL, "leads counted as distance; one line, one arrester"
    if place.withstand_kv / place.safety_factor <= place.protective_level_kv:
        reason = (
            f"protective level {place.protective_level_kv:g} kV leaves no margin to "
            f"{place.withstand_kv:g} kV / {place.safety_factor:g}"
        )
    else:
        limit = arrester_protective_distance(
            place.withstand_kv, place.safety_factor, place.protective_level_kv, place.steepness_kv_per_us
        )
        verdict = Verdict.PASS if value <= limit else Verdict.FAIL
    return Check(
        identity=f"arrester-distance-{place.name}",
        title=f"Distance from arrester {place.name} to {place.protects}",
        verdict=verdict,
        value=value,
        limit=limit,
        unit="m",
        place=_where(place),
        clause="simplified method of IEC 60099-5 (from memory)",
        method="closed form",
        reason=reason,
    )


def _leads(place: ArresterPlace) -> Check:
    leads = place.line_lead_m + place.earth_lead_m
    drop = (
        arrester_lead_voltage(leads, place.current_steepness_ka_per_us, place.inductance_uh_per_m)
        if leads > 0.0
        else 0.0
    )
    value = place.protective_level_kv + drop
    limit = place.withstand_kv / place.safety_factor
    return Check(
        identity=f"arrester-leads-{place.name}",
        title=f"Residual and lead voltage of arrester {place.name}",
        verdict=Verdict.PASS if value <= limit else Verdict.FAIL,
        value=value,
        limit=limit,
        unit="kV",
        place=_where(place),
        clause=f"{place.inductance_uh_per_m:g} uH/m, IEC 60099-5 (from memory)",
        method="closed form",
        reason=f"{drop:.3g} kV over {leads:.3g} m of leads at {place.current_steepness_ka_per_us:g} kA/us",
    )


def _earthing(place: ArresterPlace) -> list[Finding]:
    findings = []
    if place.own_rods < 1:
        findings.append(
            Finding(
                "arrester-no-rod",
                f"arrester {place.name} has no rod of its own",
                "drive a rod at its foot, joined to the mat",
                Severity.WARNING,
            )
        )
    if place.tied_to_mat is not True:
        unknown = place.tied_to_mat is None
        findings.append(
            Finding(
                "arrester-tie-unknown" if unknown else "arrester-not-tied",
                f"arrester {place.name}: "
                + ("not stated whether" if unknown else "stated that not")
                + " its earth lead is tied to the mat",
                "tie the earth lead to the mat by the shortest straight way",
                Severity.WARNING if unknown else Severity.ERROR,
            )
        )
    if place.earth_lead_m > _LONG_LEAD_M:
        findings.append(
            Finding(
                "arrester-long-earth-lead",
                f"arrester {place.name}: earth lead of {place.earth_lead_m:g} m",
                "shorten and straighten it; every metre adds about 1 uH",
                Severity.WARNING,
            )
        )
    return findings


def check_masts(
    electrode: Electrode,
    masts: Sequence[MastConnection],
    transformers: Sequence[TransformerPlace],
    *,
    resistivity_ohm_m: float | None = None,
    mat_resistance_ohm: float | None = None,
    least_distance_m: float = MAST_TO_TRANSFORMER_M,
) -> tuple[tuple[Check, ...], tuple[Finding, ...]]:
    """Ways along the mat from masts to transformers, and the electrode at the foot of every mast."""
    metal = Metalwork.from_conductors(
        electrode.conductors,
        longest_m=1.0,
        cut_at_m=[*(m.at_m for m in masts), *(t.at_m for t in transformers)],
        snap_m=_NEAR_METAL_M,
    )
    checks: list[Check] = []
    findings: list[Finding] = []
    ends = [(t, *metal.nearest_node(t.at_m)) for t in transformers]
    for mast in masts:
        node, gap = metal.nearest_node(mast.at_m)
        findings += _foot_findings(metal, mast, node, gap)
        ways = metal.distances_along_m(node) + gap
        for transformer, end, end_gap in ends:
            checks.append(
                _way_check(mast, transformer, float(ways[end]) + end_gap, gap, end_gap, least_distance_m)
            )
        if mast.level is not None:
            checks.append(_length_check(metal, mast, ways, gap, resistivity_ohm_m, mat_resistance_ohm))
    return tuple(checks), tuple(findings)


def _foot_findings(metal: Metalwork, mast: MastConnection, node: int, gap: float) -> list[Finding]:
    findings = []
    if gap > _NEAR_METAL_M:
        findings.append(
            Finding(
                "mast-off-metal",
                f"mast {mast.name}: the nearest buried metal is {gap:.2f} m from its down conductor",
                "lead the down conductor straight to the mat",
                Severity.ERROR,
            )
        )
    feet = metal.nodes_m[metal.start], metal.nodes_m[metal.end]
    upright = np.hypot(*(feet[1] - feet[0])[:, :2].T) < 0.1 * metal.length_m
    beside = np.hypot(*(0.5 * (feet[0] + feet[1]) - metal.nodes_m[node])[:, :2].T) < 2.0
    if not np.any(upright & beside) and not mast.listed_rods:
        findings.append(
            Finding(
                "mast-no-rod",
                f"mast {mast.name}: no rod within 2 m of where its down conductor meets the mat",
                "drive a rod or a cluster there",
                Severity.WARNING,
            )
        )
    if mast.down_conductors < 2:
        findings.append(
            Finding(
                "mast-one-down-conductor",
                f"mast {mast.name} has {mast.down_conductors} down conductor",
                "a metal mast may be its own; else lead down at two places",
                Severity.NOTE,
            )
        )
    return findings


def _way_check(
    mast: MastConnection, transformer: TransformerPlace, way: float, gap: float, end_gap: float, least: float
) -> Check:
    reason = ""
    if not math.isfinite(way):
        verdict, value, reason = Verdict.NOT_DECIDED, None, "no metal joins the two places"
    elif max(gap, end_gap) > _NEAR_METAL_M:
        verdict, value, reason = Verdict.NOT_DECIDED, way, "one of the places is not on the metal"
    else:
        verdict, value = (Verdict.PASS if way >= least else Verdict.FAIL), way
    return Check(
        identity=f"mast-way-{mast.name}-{transformer.name}",
        title=f"Way along the mat from mast {mast.name} to {transformer.name}",
        verdict=verdict,
        value=value,
        limit=least,
        unit="m",
        sense="min",
        place=Place(mast.at_m[0], mast.at_m[1], mast.name),
        clause="practice in China, 15 m (from memory)",
        method="shortest way in the net",
        reason=reason,
    )


def _length_check(
    metal: Metalwork,
    mast: MastConnection,
    ways: Floats,
    gap: float,
    resistivity: float | None,
    resistance: float | None,
) -> Check:
    least = (
        None if resistivity is None or mast.level is None else earth_electrode_length(mast.level, resistivity)
    )
    value: float | None = None
    verdict = Verdict.NOT_DECIDED
    if least is None:
        reason = "resistivity not given"
    elif gap > _NEAR_METAL_M:
        reason = "the mast does not meet the metal"
    else:
        value = _weighted_length(metal, ways, least)
        verdict = Verdict.PASS if value >= 2.0 * least else Verdict.FAIL
        reason = f"two electrodes of {least:.3g} m, counted along the metal up to that way from the foot"
        if verdict is Verdict.FAIL and resistance is not None and resistance <= 10.0:
            verdict, reason = (
                Verdict.PASS,
                f"not asked for: resistance {resistance:.3g} ohm is 10 ohm or less",
            )
    return Check(
        identity=f"mast-electrode-{mast.name}",
        title=f"Electrode at mast {mast.name}: metal within reach, rods counted twice",
        verdict=verdict,
        value=value,
        limit=None if least is None else 2.0 * least,
        unit="m",
        sense="min",
        place=Place(mast.at_m[0], mast.at_m[1], mast.name),
        clause="IEC 62305-3:2010, 5.4.2.1 (from memory)",
        method="metal within reach",
        reason=reason,
    )


def _weighted_length(metal: Metalwork, ways: Floats, reach: float) -> float:
    """Length of metal up to a way from the foot; vertical pieces count twice. [m]"""
    near = np.maximum(ways[metal.start], ways[metal.end]) <= reach
    rise = np.abs(metal.nodes_m[metal.end] - metal.nodes_m[metal.start])[:, 2]
    weight = np.where(rise > 0.9 * metal.length_m, 2.0, 1.0)
    return float(np.sum((metal.length_m * weight)[near]))
