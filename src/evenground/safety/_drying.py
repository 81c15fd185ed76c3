"""Does the soil at the surface of the metal dry out? Current density against what soil bears."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from evenground.errors import Finding, Severity
from evenground.model.fault import FaultResult
from evenground.model.leak import SurfaceLeak
from evenground.model.soil import LayeredSoil
from evenground.model.study import Check, Place, Verdict
from evenground.provenance import recording
from evenground.standards.is3043 import surface_current_density, surface_current_duration

__all__ = ["judge_drying"]

ASKED_BY = ("is3043", "bs7430")
"""Beginnings of the keys of standards that limit the density; beside others the check is a comparison."""
CLAUSE = "IS 3043 and BS 7430, permissible current density at the surface of an electrode"


def judge_drying(
    leak: SurfaceLeak | None,
    soil: LayeredSoil,
    faults: Sequence[FaultResult],
    gpr_v: Mapping[str, float],
    standards: Sequence[str],
    doubt: str = "",
) -> tuple[tuple[Check, ...], tuple[Finding, ...]]:
    """The place where soil is nearest to drying out, over all faults, with the back-up clearing time.

    Parameters
    ----------
    leak : SurfaceLeak
        For one volt; None: not known, nothing is judged.
    soil : LayeredSoil
    faults : sequence of FaultResult
    gpr_v : mapping
        Scenario -> potential rise. [V]
    standards : sequence of str
        Keys of the limits used; some of them ask for this check.
    doubt : str
        Why the field can not be relied on; empty when it can.
    """
    if leak is None:
        return (), ()
    rho = np.asarray(soil.resistivities_ohm_m)[leak.layer]
    worst = int(np.argmax(leak.density_a_per_m2 * np.sqrt(rho)))
    rows = []
    for fault in faults:
        name, time = fault.scenario.name, fault.scenario.thermal_time_s
        with recording(name):
            limit = surface_current_density(float(rho[worst]), time)
        rows.append((float(leak.density_a_per_m2[worst]) * gpr_v[name], limit, name, time))
    density, limit, name, time = max(rows, key=lambda row: row[0] / row[1])
    if density == 0.0:  # nothing rises, nothing flows
        return (), ()
    with recording(name):
        bears = float(f"{surface_current_duration(float(rho[worst]), density):.3g}")
    broken = density > limit
    governing = any(key.startswith(ASKED_BY) for key in standards)
    verdict = Verdict.NOT_DECIDED if doubt else Verdict.FAIL if broken else Verdict.PASS
    x, y, z = (float(v) for v in leak.middle_m[worst])
    check = Check(
        identity="surface-density",
        title="Current density at the surface of the electrode",
        verdict=verdict,
        value=density,
        limit=limit,
        unit="A/m2",
        place=Place(x, y, f"{z:.2f} m deep"),
        scenario=name,
        clause=CLAUSE,
        method="field solution",
        governing=governing,
        reason=doubt
        or f"{z:.2f} m deep, in soil of {rho[worst]:.4g} ohm m; the soil there bears this density for "
        f"{bears:g} s, the current may flow for {time:g} s",
    )
    if not broken or governing:
        return (check,), ()
    text = f"The soil at the metal dries out after {bears:g} s; the fault “{name}” may last {time:g} s"
    advice = "then the resistance rises; more buried metal, or a shorter back-up time"
    return (check,), (Finding("soil-dries", text, advice, Severity.WARNING, ("faults",)),)
