"""What has to be said about the current split: refusals, findings, and what it leaves open."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import sqrt
from typing import TYPE_CHECKING

from evenground._study_coupling import coupling_findings
from evenground.errors import Finding, InputError, Severity

if TYPE_CHECKING:
    from evenground.model.fault import FaultResult
    from evenground.model.network import Network, ScenarioSplit

__all__ = ["refuse_beyond_drive", "split_findings", "split_open"]

VOLTAGE_FACTOR_MAX = 1.1
"""Largest voltage factor c of IEC 60909 above 1 kV: no fault is driven by more than this times the
nominal voltage (from memory)."""
STATED_OFF = 0.10
"""A stated split factor further than this from the computed one is a finding."""


def split_open(network: Network | None) -> str:
    """What a computed split does not hold."""
    placed = {e.name for e in network.placed} if network else set()
    lacking = list(_without_place(network)) if network else []
    if not placed:
        coupling = (
            "coupling through the soil between the mat and towers or other earths near it, since no place of "
            "one is stated (leaving it out understates the potential rise by some per cent), "
        )
    elif lacking:
        coupling = f"coupling through the soil with earths whose place is not stated ({', '.join(lacking)}), "
    else:
        coupling = ""
    return (
        f"Current split beyond the model: {coupling}load currents, coupling between routes side by side, "
        "steel armour, touch voltage at towers and joints"
    )


def _without_place(network: Network) -> Iterator[str]:
    """Earths that are not placed, route by route. A chain known by its factor has places nowhere."""
    placed = {e.name for e in network.placed}
    earths = network.earths_ohm
    for line in network.lines:
        if line.name in network.reduced:
            yield line.name
            continue
        own = [n for n in earths if n.startswith(f"{line.name}/")]
        rest = [n for n in own if n not in placed]
        what = "poles" if line.kind == "neutral" else "towers"
        if rest:
            yield f"{len(rest)} of {len(own)} {what} of {line.name}"
    for cable in network.cables:
        if any(n.startswith(f"{cable.name}/") and n not in placed for n in earths):
            yield f"joints of {cable.name}"
    remote = {f"remote earth of {name}" for name in network.reduced}
    yield from (s.name for s in network.stations if s.name not in placed | remote)
    yield from (g.name for g in network.groups if g.name not in placed)


def refuse_beyond_drive(
    faults: Sequence[FaultResult], splits: Sequence[ScenarioSplit], gpr_v: dict[str, float], case: str
) -> None:
    """No potential rise can exceed the voltage that drives the fault; for faults that the network feeds.

    Without a network a check of the study says the same.

    Raises
    ------
    InputError
        For every fault whose rise, without the decrement factor, is above the phase voltage with the
        largest voltage factor.
    """
    findings = []
    computed = {split.scenario for split in splits}
    for fault in (f for f in faults if f.scenario.name in computed):
        scenario = fault.scenario
        limit = max(scenario.voltage_factor, VOLTAGE_FACTOR_MAX) * scenario.voltage_v / sqrt(3.0)
        rise = gpr_v[scenario.name] / fault.decrement_shock
        if rise > limit:
            text = (
                f"{scenario.name}: a potential rise of {rise:.0f} V ({case}) is above the {limit:.0f} V that "
                "drive this fault: such a current can not flow through this mat"
            )
            advice = "leave imposed out, so that the voltage drives the current through the real earths"
            findings.append(Finding("gpr-above-drive", text, advice, path=scenario.path))
    if findings:
        raise InputError(findings)


def split_findings(splits: Sequence[ScenarioSplit], faults: Sequence[FaultResult]) -> tuple[Finding, ...]:
    """Stated factors that differ from the computed ones, and warnings of the network."""
    paths = {f.scenario.name: f.scenario.path for f in faults}
    rows = []
    for split in splits:
        path, computed = paths[split.scenario], split.result.split_factor
        rows += [
            Finding("split", f"{split.scenario}: {w}", severity=Severity.WARNING, path=path)
            for w in split.result.warnings
        ]
        stated = split.stated_factor
        if stated is not None and abs(stated - computed) > STATED_OFF * computed:
            low = stated < computed
            text = (
                f"{split.scenario}: the stated split factor {stated:g} differs from {computed:.3g}, which "
                f"the network gives (fault {split.result.place.name}); the computed one is used"
            )
            severity = Severity.WARNING if low else Severity.NOTE
            advice = "the stated one is too low: correct its source" if low else "leave split_factor out"
            rows.append(Finding("split-differs", text, advice, severity, (*path, "split_factor")))
        if split.table is not None and not 0.5 <= split.table.ratio <= 2.0:
            text = (
                f"{split.scenario}: computed share of the current from afar {split.table.computed:.3g}, by "
                f"the table of IEEE Std 80, Annex C, {split.table.split_factor:.3g}: {split.table.remark}"
            )
            rows.append(Finding("split-table", text, severity=Severity.NOTE, path=("network",)))
    return (*rows, *coupling_findings(splits))
