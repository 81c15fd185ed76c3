"""Chapter of the report about lightning: shielding, strikes, arresters, masts, impulse impedance."""

from __future__ import annotations

from typing import TYPE_CHECKING

from evenground.deliver._blocks import Block, chapter, figure, heading, listing, pairs, table, text
from evenground.deliver.format import format_number, format_quantity

if TYPE_CHECKING:
    from collections.abc import Sequence

    from evenground.model.lightning import LightningResult, ObjectShielding, RequiredHeight
    from evenground.model.study import Check, Study

__all__ = ["lightning"]


def lightning(study: Study) -> Block | None:
    """The chapter, or None when the project says nothing about lightning."""
    result = study.lightning
    if result is None:
        return None
    blocks: list[Block | None] = [
        text(
            "Shielding lowers the number of strokes to what is named here; it never makes it zero, and what "
            "is not named was not looked at. Heights count from flat ground.",
            style="note",
        ),
        *_shielding(result),
        *_strikes(study, result),
        *_arresters(result),
        *_masts(result),
        *_impulses(result),
        *_tops(result),
        *_transients(result),
    ]
    return chapter("Lightning", blocks)


def _shielding(result: LightningResult) -> list[Block | None]:
    found = result.shielding
    if found is None:
        return []
    rule = found.rule
    current = "" if rule.current_ka is None else f", for strokes from {rule.current_ka:.3g} kA"
    cone = any(o.cone_protected is not None for o in found.objects)
    verdicts = {c.identity: c for c in found.checks}
    rows = [_object_row(o, verdicts[f"shielding-{o.name}"], cone) for o in found.objects]
    columns = ["Object", "Clearance", "Worst place x; y; height", "Highest allowed there", "Sphere rests on"]
    columns += ["Fixed angle", "Verdict"] if cone else ["Verdict"]
    blocks = [
        heading("Shielding by the rolling sphere"),
        pairs(
            [
                ("Radius of the sphere", format_quantity(rule.radius_m, "m", 3) + current),
                ("Rule", f"{rule.source} ({rule.evidence})" if rule.evidence else rule.source),
                ("Reach of masts against wires", format_number(rule.mast_factor, 3)),
            ]
        ),
        table(
            "Clearance of each object from the sphere, wherever it can roll; negative: the sphere reaches "
            "over the object by that much. The fixed angle stands for comparison and decides nothing",
            columns,
            rows,
            widths=["1fr", "auto", "auto", "auto", "1fr", *["auto"] * (2 if cone else 1)],
            small=True,
        ),
    ]
    if found.heights:
        blocks.append(_heights(found.heights))
    if found.contours:
        caption = "Zone that the sphere leaves protected, in plan, at the heights stated"
        blocks.append(figure("shielding", caption, "Plan of the protected zone"))
    for number, _ in enumerate(found.elevations, start=1):
        caption = "Greatest protected height along a section, with what stands within 2 m of it"
        blocks.append(figure(f"shielding-section-{number}", caption, "Elevation of the protected zone"))
    return blocks


def _heights(rows: Sequence[RequiredHeight]) -> Block | None:
    """Least height of masts at which every object keeps its clearance."""
    cells = [
        [
            r.masts,
            "—" if r.stated_m is None else f"{r.stated_m:.2f} m",
            "none: add or move masts" if r.required_m is None else f"{r.required_m:.2f} m",
        ]
        for r in rows
    ]
    return table(
        "How high masts must be for every object: all at one height, or one alone with the others as stated",
        ["Masts", "Height stated", "Height needed"],
        cells,
        align="lrr",
        widths=["1fr", "auto", "auto"],
        small=True,
    )


def _object_row(row: ObjectShielding, check: Check, cone: bool) -> list[object]:
    x, y, height = row.worst_point_m
    place = f"{x:.1f}; {y:.1f}; {height:.1f} m".replace("-", "−")
    cells: list[object] = [
        row.name,
        f"{row.clearance_m:.2f} m".replace("-", "−"),
        place,
        f"{row.height_allowed_m:.2f} m".replace("-", "−"),
        ", ".join(row.resting_on) or "—",
    ]
    if cone:
        inside = {True: "inside", False: "outside", None: "—"}
        cells.append(inside[row.cone_protected])
    return [*cells, {"bold": check.verdict.value}]


def _strikes(study: Study, result: LightningResult) -> list[Block | None]:
    found, site = result.exposure, study.project.lightning
    if found is None or site is None:
        return []
    rows = [
        ["masts, wires and roofs that take strokes", _rate(found.terminals_per_year)],
        *([f"object: {name}", _rate(value)] for name, value in found.each_object_per_year),
        ["all objects together", _rate(found.objects_per_year)],
    ]
    if found.object_critical_per_year is not None:
        rows.append(["of these above the current of the sphere", _rate(found.object_critical_per_year)])
    return [
        heading("Strikes per year"),
        table(
            f"Strikes at {site.flashes_per_km2_year:g} flashes per km² and year, electrogeometric model with "
            "leaders straight down; by area within three heights "
            f"{_rate(found.collection_strikes_per_year)} to the whole",
            ["What is struck", "Strikes"],
            rows,
            align="lr",
            widths=["1fr", "auto"],
            small=True,
        ),
    ]


def _rate(per_year: float) -> str:
    if per_year <= 0:
        return "none found"
    return f"{format_number(per_year, 2)} a year (once in {format_number(1 / per_year, 2)} years)"


def _checks(caption: str, checks: list[Check], name: str) -> Block | None:
    rows = [
        [
            c.title.removeprefix(name),
            format_quantity(c.value, c.unit, 3),
            ("at most " if c.sense == "max" else "at least ") + format_quantity(c.limit, c.unit, 3),
            {"bold": c.verdict.value},
            c.reason or "—",
        ]
        for c in checks
    ]
    columns = ["Check", "Value", "Wanted", "Verdict", "How"]
    return table(caption, columns, rows, widths=["1.3fr", "auto", "auto", "auto", "1fr"], small=True)


def _arresters(result: LightningResult) -> list[Block | None]:
    checks = [c for c in result.checks if c.identity.startswith("arrester-")]
    if not checks:
        return []
    caption = (
        "Leads count as distance; their inductive voltage adds to the residual voltage. Simplified method of "
        "IEC 60099-5 (from memory): one line, one arrester"
    )
    return [heading("Surge arresters"), _checks(caption, checks, ""), *_told(result, "arrester")]


def _masts(result: LightningResult) -> list[Block | None]:
    checks = [c for c in result.checks if c.identity.startswith("mast-")]
    if not checks:
        return []
    caption = (
        "Way along the mat to the earth connection of transformers (practice in China, from memory) and the "
        "least electrode at each foot (IEC 62305-3, from memory)"
    )
    return [heading("Feet of masts"), _checks(caption, checks, ""), *_told(result, "mast")]


def _told(result: LightningResult, word: str) -> list[Block | None]:
    rows = [
        f"{f.message}{f': {f.advice}' if f.advice else ''}."
        for f in result.findings
        if f.code.startswith(word)
    ]
    return [listing(rows)] if rows else []


def _impulses(result: LightningResult) -> list[Block | None]:
    if not result.impulses:
        return []
    rows = [
        [
            name,
            format_quantity(i.resistance_ohm, "ohm", 3),
            format_quantity(i.impulse_impedance_ohm, "ohm", 3),
            format_number(i.impulse_coefficient, 3),
            format_quantity(i.peak_current_a, "A", 3),
            format_quantity(i.peak_voltage_v, "V", 3),
            f"{i.front_time_us:.2g} µs",
            f"{i.peak_gradient_v_per_m / 1e3:.0f} kV/m",
        ]
        for name, i in zip(result.impulse_names, result.impulses, strict=True)
    ]
    notes = list(dict.fromkeys(note for i in result.impulses for note in i.notes))
    return [
        heading("Impulse impedance at the feet of masts"),
        table(
            "Peak voltage over peak current of the metal around each foot. The low-frequency resistance is "
            "that of the same piece alone, not of the whole mat",
            [
                "Foot and stroke",
                "Resistance",
                "Impulse",
                "Ratio",
                "Peak current",
                "Peak voltage",
                "Front",
                "Field",
            ],
            rows,
            align="lrrrrrrr",
            widths=["1fr", *["auto"] * 7],
            small=True,
        ),
        listing(notes),
    ]


def _tops(result: LightningResult) -> list[Block | None]:
    """Voltage at the tops of masts."""
    rows = [
        [
            t.name,
            format_quantity(t.surge_impedance_ohm, "ohm", 3),
            f"{t.inductance_uh:.3g} µH",
            format_quantity(t.foot_v, "V", 3),
            f"not decided: {t.reason}" if t.top_v is None else format_quantity(t.top_v, "V", 3),
        ]
        for t in result.mast_tops
    ]
    return [
        table(
            "Voltage of the mast against remote soil: its foot, and its top with the mast as an inductance. "
            "Between them it rises along the mast; metal beside it takes the voltage of its own foot",
            ["Mast and stroke", "Surge impedance", "Inductance", "Foot", "Top"],
            rows,
            align="lrrrr",
            widths=["1fr", *["auto"] * 4],
            small=True,
        )
    ]


def _transients(result: LightningResult) -> list[Block | None]:
    checks = [c for c in result.checks if c.identity.startswith("duty-")]
    if not checks:
        return []
    caption = (
        "What the earthing must bear in each transient: voltage to watched places against the insulation "
        "there, heating, field in the soil. Linear thin-wire model, up to a few MHz; no coupling along cables"
    )
    return [heading("Switching surges and faults inside the station"), _checks(caption, checks, "")]
