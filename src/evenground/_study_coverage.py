"""What a study has covered, what somebody declared not applicable, and what is open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from evenground._study_coverage_marks import CHAPTERS, checks_of, network_keys, shown_status
from evenground._study_lightning import lightning_covered
from evenground.model.study import Verdict
from evenground.model.surroundings import Boundary, CoverageRow

if TYPE_CHECKING:
    from evenground.model.project import Declaration, Project
    from evenground.model.study import Check

__all__ = [
    "CONNECTIONS_OPEN",
    "FENCES_OPEN",
    "TRANSFER_OPEN",
    "coverage",
    "covered_keys",
    "settled_subjects",
]

FENCES_OPEN = "Fences and gates, bonded or separate, and the gate swing"
TRANSFER_OPEN = "Transferred voltages by telecom, low-voltage supply, pipes, rails, cable sheaths"
CONNECTIONS_OPEN = "Connections of each piece of equipment, their number and routes"


@dataclass(frozen=True, slots=True)
class _Subject:
    """A subject a reviewer asks about; ``words`` find declarations about it, all in small letters."""

    key: str
    title: str
    words: tuple[str, ...]


SUBJECTS = (
    _Subject("soil", "Soil readings and model", ("soil",)),
    _Subject("season", "Seasons of the soil and earthworks", ("season", "frost", "frozen", "fill")),
    _Subject("fault", "Fault current, growth, decrement, clearing times", ("fault",)),
    _Subject("backup", "Shock during back-up clearing and reclosing", ("back-up", "backup", "reclos")),
    _Subject("current-split", "Current split between mat, earth wires, sheaths, neutrals", ("split",)),
    _Subject("touch", "Touch and step voltage inside and at the edge", ("touch", "step")),
    _Subject("cover", "Condition of the surface cover over the years", ("cover", "gravel", "stone")),
    _Subject("conductors", "Conductors and joints: heating, corrosion, strength", ("conductor", "corrosion")),
    _Subject("connections", "Connections of each piece of equipment", ("equipment", "connection")),
    _Subject("fence", "Fences", ("fence",)),
    _Subject("gate", "Gates over their swing", ("gate",)),
    _Subject("telecom", "Telecommunication circuits", ("telecom", "pilot", "optical")),
    _Subject("lv supply", "Low-voltage supply and its neutral", ("low-voltage", "low voltage", "auxiliary")),
    _Subject("pipe", "Pipes that leave the site", ("pipe", "water", "gas ")),
    _Subject("rail", "Rails", ("rail", "siding", "track")),
    _Subject("cable sheath", "Sheaths and screens of cables that leave the site", ("sheath", "screen")),
    _Subject(
        "earth wire", "Earth wires and neutrals of lines that leave the site", ("earth wire", "shield wire")
    ),
    _Subject("contours", "Surface potential outside the site", ("contour", "neighbour")),
    _Subject("equipotential", "Voltage drop along the metal", ("voltage drop", "equipotential")),
    _Subject("buildings", "Buildings, gas-insulated switchgear, reactors", ("building", "gis", "reactor")),
    _Subject("lightning", "Lightning shielding and impulse behaviour", ("lightning",)),
    _Subject("uncertainty", "Spread of the inputs", ("uncertainty", "spread")),
)
SERVICES = ("telecom", "lv supply", "pipe", "rail", "cable sheath")


def coverage(project: Project, found: Boundary, checks: Sequence[Check] = ()) -> tuple[CoverageRow, ...]:
    """One row for each subject: checked and with what outcome, declared by somebody, or open.

    What the study itself has done goes before a declaration; a declaration about a subject that no row
    knows gets a row of its own. ``checks`` are those of mat, conductors, connections and lightning; those of
    the boundary come with it.
    """
    covered = covered_keys(project, found)
    left = list(project.declarations)
    rows = []
    for subject in SUBJECTS:
        own = [d for d in left if any(word in d.subject.lower() for word in subject.words)]
        left = [d for d in left if d not in own]
        names = [s.by for s in project.installation.services if s.kind == subject.key]
        judged = checks_of(subject.key, project, checks, found.checks)
        rows.append(_marked(_row(subject, covered.get(subject.key), own, names), subject.key, judged))
    rows += [_declared(d.subject, d) for d in left]
    return tuple(rows)


def _marked(row: CoverageRow, key: str, judged: Sequence[Check]) -> CoverageRow:
    """The row with the outcome of its checks, and the chapter that tells about it."""
    status = shown_status(row.status, judged)
    if status == row.status:
        return row
    failing = [c.title for c in judged if c.verdict is Verdict.FAIL]
    more = (
        f"; fails: {'; '.join(failing[:3])}" + (" and others" if len(failing) > 3 else "") if failing else ""
    )
    return replace(row, status=status, how=row.how + more, chapter=CHAPTERS.get(key, ""))


def _row(
    subject: _Subject, covered: tuple[str, str] | None, own: list[Declaration], names: list[str]
) -> CoverageRow:
    if covered is not None:
        status, how = covered
        more = "; ".join(f"declared {d.status}: {d.reason or d.subject}" for d in own)
        by = ", ".join(dict.fromkeys(name for name in (*names, *(d.by for d in own)) if name))
        return CoverageRow(subject.title, status, f"{how}; {more}" if more else how, by)
    if own:
        return _declared(subject.title, own[0])
    return CoverageRow(subject.title, "open", "nothing is stated and nothing was checked")


def _declared(title: str, declaration: Declaration) -> CoverageRow:
    how = declaration.reason or "no reason is given"
    if declaration.subject.lower() not in title.lower():
        how = f"{declaration.subject}: {how}"
    return CoverageRow(title, declaration.status, how, declaration.by or "nobody is named")


def _contours(found: Boundary) -> tuple[str, str]:
    if not found.contours:
        return "open", "no mat"
    far = [f"{c.voltage_v:.0f} V" for c in found.contours if c.beyond_m is not None]
    if far:
        return "partly covered", f"{', '.join(far)} reach further than was looked at"
    return "covered", f"{len(found.contours)} contours"


def covered_keys(project: Project, found: Boundary) -> dict[str, tuple[str, str]]:
    """Key of a subject -> status and how, for everything that this study looked at."""
    built = project.installation
    rows: dict[str, tuple[str, str]] = {
        "soil": (
            "covered",
            f"{len(project.traverses)} traverses" if project.traverses else "model as stated",
        ),
        "fault": ("covered", f"{len(project.faults)} scenarios"),
        "touch": ("covered", "field solution, searched over the area"),
        "conductors": ("covered", f"{len(project.conductors)} kinds, thermal equation and corrosion"),
        "contours": _contours(found),
    }
    if any(f.split_factor < 1.0 for f in project.faults):
        stated = ", ".join(f"{f.split_factor:g}" for f in project.faults)
        rows["current-split"] = ("partly covered", f"split factors as stated ({stated}), not computed")
    if project.assessment.entry_points:
        rows["equipotential"] = ("covered", "current entering at the places stated")
    if project.lightning is not None:
        rows["lightning"] = lightning_covered(project.lightning)
    if project.seasons:
        names = ", ".join(s.name for s in project.seasons)
        rows["season"] = ("covered", f"seasons stated: {names}; others are not")
    if built.equipment:
        rows["connections"] = ("covered", f"{len(built.equipment)} items against the rules for their kind")
    elif "equipment" in built.stated:
        rows["connections"] = ("open", "the equipment list is empty")
    if built.fences:
        rows["fence"] = ("covered", ", ".join(f"{f.name} ({f.bonding})" for f in built.fences))
    elif "fences" in built.stated:
        rows["fence"] = ("open", "the list of fences is empty")
    if built.gates:
        rows["gate"] = _gates(project, found)
    for kind in SERVICES:
        own = [s for s in built.services if s.kind == kind]
        if own:
            status = "open" if any(s.disposal == "open" for s in own) else "covered"
            rows[kind] = (status, "; ".join(f"{s.name}: {s.disposal}" for s in own))
    rows |= network_keys(project)
    rows |= _inside_only(project, rows)
    rows |= _current_keys(project)
    kinds = {e.kind for e in built.equipment}
    special = sorted(kinds & {"building", "gis", "air core reactor"})
    if special:
        rows["buildings"] = ("partly covered", f"connections of {', '.join(special)}; not their own field")
    return rows


def _inside_only(project: Project, known: dict[str, tuple[str, str]]) -> dict[str, tuple[str, str]]:
    """Pipes and rails of the equipment list of which nobody says how they leave the site."""
    rows = {}
    for kind in ("pipe", "rail"):
        tags = [e.tag or e.kind for e in project.installation.equipment if e.kind == kind]
        if tags and kind not in known:
            rows[kind] = (
                "open",
                f"{', '.join(tags)} in the equipment list; how it leaves the site is not stated",
            )
    return rows


def _gates(project: Project, found: Boundary) -> tuple[str, str]:
    """Gates whose swing was judged, and those that stand in no metal fence."""
    judged = {name for name, _ in found.swings}
    gates = project.installation.gates
    how = ", ".join(f"{g.name} ({g.opens})" for g in gates if g.name in judged)
    left = ", ".join(g.name for g in gates if g.name not in judged)
    if not left:
        return "covered", how
    missing = f"not judged, in no metal fence: {left}"
    return ("partly covered", f"{how}; {missing}") if how else ("open", missing)


def _current_keys(project: Project) -> dict[str, tuple[str, str]]:
    """What the network and the fault scenarios cover."""
    rows: dict[str, tuple[str, str]] = {}
    net = project.network
    if net is not None:
        fed = [f for f in project.faults if any(net.contributions(f.fault_name))]
        status = "covered" if len(fed) == len(project.faults) else "partly covered"
        routes = f"{len(net.lines)} lines and neutrals, {len(net.cables)} cables"
        rows["current-split"] = (
            status,
            f"computed for {len(fed)} of {len(project.faults)} scenarios from {routes}",
        )
    late = [f for f in project.faults if f.base or f.reclosings]
    if late:
        without = sorted({f.fault_name for f in project.faults} - {f.fault_name for f in late})
        how = f"scenarios: {'; '.join(f.name for f in late)}"
        rows["backup"] = (
            ("partly covered", f"{how}; none for {'; '.join(without)}") if without else ("covered", how)
        )
    return rows


def settled_subjects(project: Project) -> dict[str, str]:
    """Text of a subject that is not checked by default -> what is left of it, empty when nothing is."""
    built = project.installation
    rows = {}
    if built.equipment:
        rows[CONNECTIONS_OPEN] = "Routes of the connections of equipment, and whether they are built as drawn"
    if built.fences:
        rows[FENCES_OPEN] = "" if built.gates else "Gates: none is stated"
    if built.services:
        said = [d.subject.lower() for d in project.declarations]
        words = {s.key: s.words for s in SUBJECTS}
        missing = [
            kind
            for kind in SERVICES
            if not any(s.kind == kind for s in built.services)
            and not (kind == "cable sheath" and project.network is not None and project.network.cables)
            and not any(word in text for word in words[kind] for text in said)
        ]
        named = ", ".join(missing).replace("lv supply", "low-voltage supply")
        rows[TRANSFER_OPEN] = f"Transferred voltages by {named}" if missing else ""
    return rows
