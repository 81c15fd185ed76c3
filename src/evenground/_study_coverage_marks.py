"""What the checks say about each subject of the completeness page, and where the report tells it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from evenground.model.study import Check, Verdict

if TYPE_CHECKING:
    from evenground.model.network import Network
    from evenground.model.project import Project

__all__ = ["CHAPTERS", "checks_of", "network_keys", "shown_status"]

CHAPTERS = {
    "soil": "Soil",
    "season": "Results",
    "fault": "Earth faults, clearing times and current split",
    "backup": "Earth faults, clearing times and current split",
    "current-split": "Where the current goes",
    "touch": "Results",
    "cover": "Limits of touch and step voltage",
    "conductors": "Conductors: thermal size, corrosion, minimum",
    "connections": "Metalwork and connections",
    "fence": "Fences and gates",
    "gate": "Fences and gates",
    "telecom": "Transferred voltages",
    "lv supply": "Transferred voltages",
    "pipe": "Transferred voltages",
    "rail": "Transferred voltages",
    "cable sheath": "Transferred voltages",
    "earth wire": "Where the current goes",
    "contours": "Transferred voltages",
    "equipotential": "Results",
    "buildings": "Metalwork and connections",
    "lightning": "Lightning",
}
"""Key of a subject -> title of the chapter of the report that tells about it."""

_BEGIN = {
    "touch": ("touch", "step"),
    "conductors": ("conductor",),
    "connections": ("connections", "lead"),
    "fence": ("touch", "distance", "live-parts", "rods", "bonds", "inside", "section"),
    "gate": ("touch", "gate-bond", "gate-cover"),
    "lightning": ("arrester", "mast", "shielding", "duty"),
}
"""First words of the identities of the checks about a subject."""
SERVICES = ("telecom", "lv supply", "pipe", "rail", "cable sheath")


def checks_of(
    key: str, project: Project, at_mat: Sequence[Check], around: Sequence[Check]
) -> tuple[Check, ...]:
    """Governing checks about a subject.

    Parameters
    ----------
    key : str
        Of the subject.
    project : Project
    at_mat : sequence of Check
        Of mat, separate electrodes, conductors, connections and lightning.
    around : sequence of Check
        Of fences, gates and services.
    """
    services = project.installation.services
    if key in SERVICES:
        rows = [c for c in around if _of_services(c, [s.name for s in services if s.kind == key])]
    elif key in ("fence", "gate"):
        rows = [c for c in around if c.identity.startswith(_BEGIN[key]) and _at_gate(c) is (key == "gate")]
        rows = [c for c in rows if not _of_services(c, [s.name for s in services])]
    elif key in _BEGIN:
        rows = [c for c in at_mat if c.identity.startswith(_BEGIN[key])]
    else:
        rows = []
    return tuple(c for c in rows if c.governing)


def _at_gate(check: Check) -> bool:
    return check.identity.endswith("-swing") or check.identity.startswith(("gate-bond", "gate-cover"))


def _of_services(check: Check, names: Sequence[str]) -> bool:
    """Whether a check is about one of these services: what it transfers, touch along its way, its joint."""
    slugs = ["-".join("".join(c if c.isalnum() else " " for c in n.lower()).split()) for n in names]
    kinds = ("transfer-{}", "touch-{}-along", "touch-{}-beyond", "joint-{}")
    return any(check.identity == kind.format(s) for s in slugs for kind in kinds)


def shown_status(status: str, checks: Sequence[Check]) -> str:
    """What a reader is told: a subject that was looked at, with what its checks say.

    ``"checked: fails"``, ``"checked: not decided"``, ``"checked: passes"``, the same beginning with ``"partly
    checked"``, ``"looked at"`` where no limit applies; anything else stays.
    """
    if status not in ("covered", "partly covered"):
        return status
    if not checks:
        return "looked at" if status == "covered" else "partly looked at"
    verdicts = {c.verdict for c in checks}
    word = (
        "fails"
        if Verdict.FAIL in verdicts
        else "not decided"
        if Verdict.NOT_DECIDED in verdicts
        else "passes"
    )
    return f"{'checked' if status == 'covered' else 'partly checked'}: {word}"


def network_keys(project: Project) -> dict[str, tuple[str, str]]:
    """What the network says about metal that leaves the site: sheaths, earth wires, neutrals."""
    net = project.network
    if net is None:
        return {}
    rows: dict[str, tuple[str, str]] = {}
    own = [s.name for s in project.installation.services if s.kind == "cable sheath"]
    sheaths = [f"{c.name}: sheath {c.bonding.replace('_', ' ')}, in the current split" for c in net.cables]
    if sheaths and len(own) < len(sheaths):
        left = "the voltage carried to the far end is not judged; list them under services"
        rows["cable sheath"] = ("partly covered", f"{'; '.join(sheaths)}; {left}")
    rows["earth wire"] = _earth_wires(net)
    return rows


def _earth_wires(net: Network) -> tuple[str, str]:
    """Lines with their earth wires and whether these are joined to the mat at the gantry."""
    words = []
    for line in net.lines:
        many = len(line.ground_wires if line.given is None else line.given.ground_ohm_per_m)
        what = "neutral" if line.kind != "line" else f"{many} earth wire{'s' if many != 1 else ''}"
        if not many and line.kind == "line":
            what = "no earth wire"
        ends = "joined to the mat" if line.bonded_near else "insulated at the gantry"
        words.append(f"{line.name}: {what}" + ("" if what == "no earth wire" else f", {ends}"))
    words += [f"{name}: by its reduction factor" for name in net.reduced]
    return "covered", "; ".join(words) or "no line leaves the site"
