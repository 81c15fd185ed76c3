"""Chapters of the report: metalwork and connections, fences and gates, transferred voltages, completeness."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from evenground.deliver._blocks import Block, chapter, figure, heading, table, text
from evenground.deliver.format import format_number, format_quantity, format_stated
from evenground.deliver.words import limit_text, verdict_word

if TYPE_CHECKING:
    from evenground.model.study import Check, Study
    from evenground.model.surroundings import Boundary, Surroundings

__all__ = ["completeness", "connections", "fences", "transferred"]

OF_SERVICES = ("transfer-", "joint-")
"""How identities of checks on services begin."""


def connections(study: Study) -> Block:
    """Equipment, what the rules ask of it, leads at full current."""
    found = study.surroundings
    items = study.project.installation.equipment
    if found is None or not items:
        return chapter(
            "Metalwork and connections",
            [text("No equipment list is stated; nothing is said about the connections of equipment.")],
        )
    return chapter(
        "Metalwork and connections",
        [
            text(
                f"{len(items)} items are held against the rules for their kind, practice "
                f"“{study.project.installation.practice}”. A lead is sized for the full fault current: "
                "either of two connections may be the one that is left."
            ),
            _items(study, found),
            *_shortcomings(found),
            _leads(found),
            _rules(found),
        ],
        name="connections",
    )


def _items(study: Study, found: Surroundings) -> Block | None:
    outcomes: dict[tuple[str | int, ...], Counter[str]] = {}
    for row in found.connections:
        outcomes.setdefault(row.path[:2], Counter())[row.outcome] += 1
    rows = []
    for item in study.project.installation.equipment:
        own = outcomes.get(item.path, Counter())
        wrong = own["broken"] + own["not stated"]
        rods = (item.electrodes or 0) + (item.neutral_electrodes or 0)
        rows.append(
            [
                item.tag,
                item.kind,
                "—" if item.voltage_kv is None else f"{item.voltage_kv:g}",
                f"{item.x_m:g}, {item.y_m:g}".replace("-", "−"),
                str(item.terminals),
                "—" if item.neutral_connections is None else str(item.neutral_connections),
                str(rods) if rods else "—",
                ", ".join(item.measures) or "—",
                f"{own.total() - wrong - own['advice']} of {own.total()}"
                + (f", {own['advice']} advised" if own["advice"] else ""),
            ]
        )
    return table(
        "Equipment and its connections as drawn",
        ["Tag", "Kind", "kV", "x, y, m", "Leads", "Neutral", "Rods", "Measures", "Rules kept"],
        rows,
        align="llrrrrrll",
        widths=["auto", "1fr", "auto", "auto", "auto", "auto", "auto", "1.2fr", "auto"],
        small=True,
    )


def _shortcomings(found: Surroundings) -> list[Block | None]:
    words = {"broken": "NOT KEPT", "not stated": "NOT STATED", "advice": "advice"}
    order = list(words)
    chosen = sorted(
        (r for r in found.connections if r.outcome in words), key=lambda r: order.index(r.outcome)
    )
    rows = [[{"bold": words[r.outcome]}, f"{r.tag} ({r.kind})", r.rule, r.drawn, r.wanted] for r in chosen]
    if not rows:
        return [text("Every rule is kept.")]
    return [
        table(
            "Rules that are not kept, can not be judged, or only advise",
            ["", "Item", "Rule", "Drawn", "Wanted"],
            rows,
            widths=["auto", "auto", "1.6fr", "auto", "auto"],
            small=True,
        )
    ]


def _leads(found: Surroundings) -> Block | None:
    rows = [
        [
            d.conductor,
            d.joint or "—",
            str(len(d.items)),
            d.scenario,
            format_quantity(d.current_a, "A"),
            format_stated(d.time_s, "s"),
            f"{d.final_temperature_c:.0f} °C, {d.limited_by}",
            format_number(d.needed_mm2, 3),
            format_number(d.area_mm2, 3),
        ]
        for d in found.duties
    ]
    return table(
        "Leads at the full fault current; sections at the end of life",
        [
            "Lead",
            "Joint",
            "Items",
            "Fault",
            "Current",
            "Time",
            "Final temperature",
            "Needed, mm²",
            "There, mm²",
        ],
        rows,
        align="llrlrrlrr",
        widths=["auto", "auto", "auto", "1fr", "auto", "auto", "1fr", "auto", "auto"],
        small=True,
    )


def _rules(found: Surroundings) -> Block | None:
    seen = dict.fromkeys((r.rule, r.source, r.evidence) for r in found.connections)
    return table(
        "The rules and their sources",
        ["Rule", "Source", "Known how"],
        [[rule, source, evidence] for rule, source, evidence in seen],
        widths=["1.5fr", "1fr", "auto"],
        small=True,
    )


def _place(check: Check) -> str:
    if check.place is None:
        return "—"
    return f"{check.place.x_m:.2f}, {check.place.y_m:.2f}".replace("-", "−")


def fences(study: Study) -> Block:
    """Potential of each fence, touch along it and over the swing of gates, arrangement."""
    found = study.surroundings.boundary if study.surroundings else None
    built = study.project.installation
    if found is None or not built.fences:
        return chapter(
            "Fences and gates", [text("No fence is stated; nothing is said about fences and gates.")]
        )
    worst = max(study.gpr_v.values(), default=0.0)
    touched = [c for c in found.checks if c.identity.startswith("touch-")]
    touched = [c for c in touched if not c.identity.endswith(("-along", "-beyond"))]
    return chapter(
        "Fences and gates",
        [
            text(
                f"Touch voltage is computed from every place within {study.project.assessment.reach_m:g} m "
                "of each fence, on both sides, and of each gate leaf in every position of its swing (a right "
                "angle). A separate fence floats: its posts and rods are solved together with the mat, and "
                "its own potential counts. A bonded fence has the potential of the mat; the current that "
                "its posts leak is left out, which is cautious."
            ),
            figure(
                "boundary-plan",
                "Equipment, fences, gates and services in plan",
                "Plan of equipment, fences, gates and services",
            ),
            _pieces(study, found, worst),
            _checks("Touch voltage along fences and gates", touched),
            _checks(
                "Arrangement of fences and gates",
                [c for c in found.checks if c.unit != "V" and not c.identity.startswith(OF_SERVICES)],
            ),
            *(
                figure(f"fence-{n}", f"Touch voltage along {p.name}", f"Touch voltage along {p.name}")
                for n, p in enumerate(found.profiles, 1)
            ),
        ],
        name="fences",
    )


def _pieces(study: Study, found: Boundary, rise_v: float) -> Block | None:
    owners = {f.name: f.owner for f in study.project.installation.fences}
    rows = [
        [
            p.name,
            owners.get(p.fence, "own"),
            p.bonding,
            format_quantity(p.potential * rise_v, "V"),
            f"{100 * p.potential:.1f} %",
            "—" if p.resistance_ohm is None else format_quantity(p.resistance_ohm, "ohm"),
        ]
        for p in found.pieces
    ]
    rows += [
        [f.name, f.owner, "insulating", "—", "—", "—"]
        for f in study.project.installation.fences
        if f.bonding == "insulating"
    ]
    return table(
        "Pieces of fence and the potential each takes up at the highest potential rise",
        ["Piece", "Owner", "Earthing", "Potential", "of the rise", "Own resistance"],
        rows,
        align="lllrrr",
        widths=["1fr", *["auto"] * 5],
    )


def _checks(caption: str, checks: list[Check]) -> Block | None:
    rows = [
        [
            c.title,
            {"bold": verdict_word(c.verdict)},
            format_quantity(c.value, c.unit),
            limit_text(c),
            _place(c),
            "; ".join(w for w in (c.reason, c.clause) if w),
        ]
        for c in checks
    ]
    return table(
        caption,
        ["Check", "Verdict", "Value", "Limit", "x, y, m", "Remark and source"],
        rows,
        align="llrrrl",
        widths=["1.1fr", "auto", "auto", "auto", "auto", "1.2fr"],
        small=True,
    )


def transferred(study: Study) -> Block:
    """What crosses the boundary, and the potential outside."""
    found = study.surroundings.boundary if study.surroundings else None
    if found is None:
        return chapter("Transferred voltages", [text("Nothing was looked at.")])
    services = [
        [
            t.name,
            t.kind,
            {"bold": t.disposal.upper() if t.disposal == "open" else t.disposal},
            "—" if t.value_v is None else format_quantity(t.value_v, "V"),
            "—" if t.limit_v is None else format_quantity(t.limit_v, "V"),
            t.meaning,
            "—" if t.local_v is None else format_quantity(t.local_v, "V"),
            "; ".join(w for w in (t.remark, t.reason, t.by, t.clause) if w) or "—",
        ]
        for t in found.transfers
    ]
    own = [
        c
        for c in found.checks
        if c.identity.startswith(OF_SERVICES) or c.identity.endswith(("-along", "-beyond"))
    ]
    return chapter(
        "Transferred voltages",
        [
            text(
                "Everything of metal that crosses the boundary has to be disposed of: left without metal, "
                "isolated, or bonded with its far end looked at."
                if services
                else "No service that crosses the boundary is stated. Each telecommunication circuit, "
                "low-voltage supply, pipe, rail and cable sheath has to be disposed of."
            ),
            table(
                "Services that cross the boundary; the surface potential is that at the crossing",
                [
                    "Service",
                    "Kind",
                    "Disposal",
                    "Voltage",
                    "Limit",
                    "Which",
                    "Surface",
                    "Remark, reason, by, source",
                ],
                services,
                align="lllrrlrl",
                widths=["1fr", "auto", "auto", "auto", "auto", "1fr", "auto", "1.6fr"],
                small=True,
            ),
            _checks("Checks of services", own),
            heading("Surface potential outside the site"),
            text(
                "With separate fences and services in place at their own potentials. Round metal that "
                "carries a voltage beyond the line of the mat, the distance is that from the metal at which "
                "the voltage is nowhere exceeded any more."
            ),
            _contours(found),
            figure("contours", "Contours of surface potential outside the site", "Map of contours outside"),
        ],
        name="transferred",
    )


def _contours(found: Boundary) -> Block | None:
    rows = []
    for c in found.contours:
        # all three None: the surface at the edge of the mat is below the voltage
        below = c.nearest_m is None and c.furthest_m is None and c.beyond_m is None
        away = "not reached" if c.beyond_m is None else f"further than {c.beyond_m:.0f} m"
        rows.append(
            [
                f"{c.voltage_v:.0f} V{f' round {c.around}' if c.around else ''}",
                format_stated(round(c.nearest_m, 1), "m") if c.nearest_m is not None else away,
                format_stated(round(c.furthest_m, 1), "m") if c.furthest_m is not None else away,
                c.used_for + ("; the surface at the edge of the mat is below it" if below else ""),
                f"{c.source}{'' if c.evidence == 'found' else ', ' + c.evidence}",
            ]
        )
    return table(
        "Distance of contours from the edge of the mat, or from metal outside that carries the voltage "
        "further" + (f", fault “{found.contours[0].scenario}”" if found.contours else ""),
        ["Contour", "Nearest", "Furthest", "Used for", "Source"],
        rows,
        align="lrrll",
        widths=["0.8fr", "auto", "auto", "1fr", "1fr"],
        small=True,
    )


def completeness(study: Study) -> Block:
    """One page: covered, declared, open."""
    rows = study.surroundings.coverage if study.surroundings else ()
    counts = Counter(r.status for r in rows)
    words = ", ".join(f"{counts[s]} {s}" for s in dict.fromkeys(r.status for r in rows))
    order = ["open", "partly covered", "covered", "covered elsewhere", "not applicable"]
    ranked = sorted(rows, key=lambda r: order.index(r.status) if r.status in order else 0)
    return chapter(
        "Completeness",
        [
            text(
                f"{len(rows)} subjects: {words}. “Covered” says that the subject was looked at with the "
                "inputs stated, not that it is in order; the checks say that."
            ),
            table(
                "What the study has covered, what was declared by whom, what is open",
                ["Subject", "Status", "How, or why", "By"],
                [
                    [
                        r.subject,
                        {"bold": r.status.upper() if r.status == "open" else r.status},
                        r.how,
                        r.by or "—",
                    ]
                    for r in ranked
                ],
                widths=["1.2fr", "auto", "1.8fr", "auto"],
                small=True,
            ),
        ],
        name="completeness",
    )
