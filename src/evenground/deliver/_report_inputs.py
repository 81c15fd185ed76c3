"""Chapters of the report that say what went in: register, site, soil, faults, conductors, limits."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from evenground.deliver._blocks import Block, chapter, figure, heading, listing, math, pairs, table, text
from evenground.deliver._report_network import shots
from evenground.deliver._report_person import person_blocks
from evenground.deliver.format import (
    format_number,
    format_percent,
    format_quantity,
    format_stated,
    format_value,
)
from evenground.deliver.words import standards_text

if TYPE_CHECKING:
    from evenground.model.conductor import ConductorResult
    from evenground.model.fault import FaultResult
    from evenground.model.project import Origin, RegisteredInput
    from evenground.model.study import Study

__all__ = ["conductors", "faults", "limits", "register", "register_rows", "site"]

MOST_COLUMNS = 3
KINDS = {"single": "one line to earth", "double": "two lines to earth"}


def register_rows(study: Study) -> list[list[str]]:
    """Field, value as written, and its origin; fields of one entry with the same origin share a row."""
    lists: dict[tuple[str | int, ...], list[RegisteredInput]] = {}
    readings: dict[tuple[str, str], int] = {}
    for row in study.project.register:
        if row.path[:1] in (("project",), ("evenground",), ("declarations",), ("assumptions",)):
            continue
        if "readings" in row.path:
            key = (_field(row.path[: row.path.index("readings")]), _origin(row.origin))
            readings[key] = readings.get(key, 0) + 1
            continue
        stem = _without_numbers(row.path)
        if stem != row.path and stem in lists:
            lists[stem].append(row)
            continue
        lists[stem] = [row]
    rows = _by_parent(
        {stem: (_joined(stem, group), _origin(group[0].origin)) for stem, group in lists.items()}
    )
    rows += [
        [f"{place}.readings", f"{count} values, listed in the chapter on soil", origin]
        for (place, origin), count in readings.items()
    ]
    return rows


def _by_parent(values: dict[tuple[str | int, ...], tuple[str, str]]) -> list[list[str]]:
    """One row for the fields of one entry that have the same origin: ``depth_m 0.6; spacing_m 7``."""
    groups: dict[tuple[tuple[str | int, ...], str], list[tuple[tuple[str | int, ...], str]]] = {}
    for path, (value, origin) in values.items():
        parent = path[:-1] if len(path) > 1 else path
        groups.setdefault((parent, origin), []).append((path, value))
    rows = []
    for (parent, origin), fields in groups.items():
        if len(fields) == 1:
            path, value = fields[0]
            rows.append([_field(path), value, origin])
        else:
            rows.append([_field(parent), "; ".join(f"{path[-1]} {value}" for path, value in fields), origin])
    return rows


def _without_numbers(path: tuple[str | int, ...]) -> tuple[str | int, ...]:
    """The path of a list of numbers or points, without the places in the list."""
    end = len(path)
    while end and isinstance(path[end - 1], int):
        end -= 1
    return path[:end]


def _joined(stem: tuple[str | int, ...], group: Sequence[RegisteredInput]) -> str:
    """Points as ``(0, 0), (70, 0)``, other lists with commas."""
    points: dict[str | int, list[str]] = {}
    for row in group:
        if len(row.path) == len(stem) + 2:
            points.setdefault(row.path[len(stem)], []).append(row.value)
    if points:
        return ", ".join(f"({', '.join(values)})" for values in points.values())
    return ", ".join(row.value for row in group)


def _field(path: Sequence[str | int]) -> str:
    text_ = ""
    for part in path:
        text_ += f"[{part + 1}]" if isinstance(part, int) else (f".{part}" if text_ else part)
    return text_


def _origin(origin: Origin | None) -> str:
    if origin is None:
        return "not stated"
    document = f"{origin.document} rev. {origin.revision}" if origin.revision else origin.document
    parts = [document, origin.date, origin.note]
    if origin.confidence:
        parts.append(f"confidence: {origin.confidence}")
    return ", ".join(p for p in parts if p) or "not stated"


def register(study: Study) -> Block:
    """The register of inputs."""
    rows = register_rows(study)
    unstated = _unstated(study.project.register)
    return chapter(
        "Register of inputs",
        [
            text(
                "Values as written in the project file, each with the document it comes from. "
                f"No origin is stated for {unstated} of {len(study.project.register)} values of the file; "
                "the complete list is in inputs.csv."
            ),
            table(
                "Inputs and their origin (lists count from 1)",
                ["Field", "Value", "Origin"],
                [[{"path": field}, value, origin] for field, value, origin in rows],
                widths=["1.5fr", "2.6fr", "1.6fr"],
                small=True,
            ),
        ],
    )


def _unstated(rows: Sequence[RegisteredInput]) -> int:
    return sum(row.origin is None for row in rows)


def site(study: Study) -> Block:
    """Site, mats, surface zones and how people are judged."""
    project = study.project
    mats = [
        [
            mat.name,
            _extent(mat.outline_m),
            f"{mat.spacing_x_m:g} × {mat.spacing_y_m:g}",
            f"{mat.depth_m:g}",
            mat.conductor,
            "; ".join(_rods(rule) for rule in mat.rods) or "none",
        ]
        for mat in project.mats
    ]
    zones = [
        [
            zone.name,
            " ".join(p for p in (zone.material, zone.state) if p) or "native soil",
            format_number(zone.resistivity_ohm_m) if zone.resistivity_ohm_m is not None else "native",
            f"{zone.thickness_m:g}" if zone.thickness_m else "—",
            _extent(zone.outline_m) if zone.outline_m is not None else "everywhere else",
        ]
        for zone in project.surface
    ]
    return chapter(
        "Site, mats and surface zones",
        [
            figure("plan", "Layout of the electrode in plan, with surface zones", "Plan of the mat"),
            table(
                "Mats as drawn",
                ["Mat", "Extent, m", "Mesh at most, m", "Depth, m", "Conductor", "Rods"],
                mats,
                widths=["auto", "auto", "auto", "auto", "auto", "1fr"],
            ),
            table(
                "Surface zones; the first zone that holds a point counts, elsewhere the soil is bare",
                ["Zone", "Cover", "ρs, Ω·m", "Thickness, m", "Extent, m"],
                zones,
                align="llrrl",
                widths=["auto", "1fr", "auto", "auto", "auto"],
            ),
            text("No surface cover is stated: people stand on bare soil everywhere." if not zones else ""),
        ],
    )


def _extent(ring: Sequence[tuple[float, float]] | None) -> str:
    if not ring:
        return "—"
    xs, ys = zip(*ring, strict=True)
    shape = "" if len(ring) == 4 else f", {len(ring)} corners"
    return f"{max(xs) - min(xs):g} × {max(ys) - min(ys):g}{shape}"


def _rods(rule: Any) -> str:
    where = {"corners": "in the corners", "perimeter": "on the perimeter"}.get(rule.where, rule.where)
    spaced = f" every {rule.spacing_m:g} m" if rule.spacing_m else ""
    return f"{rule.length_m:g} m, ⌀ {rule.diameter_mm:g} mm, {where}{spaced}"


def _transposed(
    caption: str, names: Sequence[str], lines: Sequence[tuple[str, Sequence[str]]]
) -> list[Block | None]:
    """A table with one column for each name, in several parts when there are many."""
    blocks: list[Block | None] = []
    for start in range(0, len(names), MOST_COLUMNS):
        part = slice(start, start + MOST_COLUMNS)
        count = len(names[part])
        blocks.append(
            table(
                caption,
                ["", *names[part]],
                [[label, *values[part]] for label, values in lines],
                align="l" + "r" * count,
                widths=["1.4fr", *["1fr"] * count],
            )
        )
    return blocks


def faults(study: Study) -> Block:
    """Fault currents, durations, decrement and split, level by level."""
    rows = study.faults

    def line(label: str, value: Callable[[FaultResult], str]) -> tuple[str, list[str]]:
        return label, [value(row) for row in rows]

    lines = [
        line("Nominal voltage", lambda r: format_stated(r.scenario.voltage_v, "V")),
        line("Kind", lambda r: KINDS.get(r.scenario.kind, r.scenario.kind)),
        line("Current", _current_source),
        line("Growth factor", lambda r: format_value(r.scenario.growth_factor)),
        line("Earth-fault current 3I0, with growth", lambda r: format_quantity(r.earth_fault_current_a, "A")),
        line("X/R", lambda r: "not stated" if r.x_over_r is None else format_number(r.x_over_r, 3)),
        line("Clearing time, shock", lambda r: format_stated(r.scenario.shock_time_s, "s")),
        line("Clearing time, heating (back-up)", lambda r: format_stated(r.scenario.thermal_time_s, "s")),
        *shots(rows),
        line("Decrement factor, shock", lambda r: format_number(r.decrement_shock)),
        line("Decrement factor, heating", lambda r: format_number(r.decrement_thermal)),
        line("Share through the mat", lambda r: format_percent(r.scenario.split_factor)),
        line("Source of that share", lambda r: r.scenario.split_source or "not stated"),
        line("Current through the mat into the soil", lambda r: format_quantity(r.grid_current_a, "A")),
        line("Current that heats a connection", lambda r: format_quantity(r.thermal_current_a, "A")),
    ]
    remarks = [f"{r.scenario.name}: {words}" for r in rows for words in (*r.warnings, *r.notes)]
    remarks += [f"{r.scenario.name}: {r.scenario.note}" for r in rows if r.scenario.note]
    return chapter(
        "Earth faults, clearing times and current split",
        [
            *_transposed("Fault scenarios", [r.scenario.name for r in rows], lines),
            heading("Remarks") if remarks else None,
            listing(remarks),
        ],
    )


def _current_source(row: FaultResult) -> str:
    if row.scenario.sequence is None:
        return f"{format_stated(row.scenario.current_a, 'A')} stated"
    return "from sequence impedances"


def conductors(study: Study) -> Block:
    """Thermal size, corrosion, minimum and what is installed."""
    keys = list(study.conductors)
    rows = [study.conductors[k] for k in keys]

    def line(label: str, value: Callable[[ConductorResult], str]) -> tuple[str, list[str]]:
        return label, [value(row) for row in rows]

    def area(value: float | None) -> str:
        return "none stated" if value is None else format_quantity(value, "mm2")

    lines = [
        line("Material", lambda r: r.request.material.replace("_", " ")),
        line("Joint", lambda r: r.request.joint),
        line("Governing fault", lambda r: r.scenario),
        line("Current and duration", lambda r: f"{format_quantity(r.current_a, 'A')}, {r.time_s:g} s"),
        line("Temperature from … to", _temperatures),
        line("Temperature limited by", lambda r: r.limited_by),
        line("Section asked for by heating", lambda r: area(r.thermal_area_mm2)),
        line("Left at the end of life, needed", lambda r: area(r.end_of_life_area_mm2)),
        line("Loss by corrosion", _corrosion),
        line("Mechanical minimum", lambda r: area(r.minimum_area_mm2)),
        line("Required when new", lambda r: f"{area(r.required_area_mm2)} ({r.governed_by})"),
        line("Installed when new", lambda r: area(r.installed_area_mm2)),
        line("Installed, left at the end of life", lambda r: area(r.remaining_area_mm2)),
        line("Next stock size", lambda r: r.stock_name or "none large enough"),
        line("Radius in the field solution", lambda r: f"{1000 * r.radius_m:.3g} mm"),
    ]
    remarks = [f"{k}: {w}" for k, r in zip(keys, rows, strict=True) for w in (*r.warnings, *r.notes)]
    return chapter(
        "Conductors: thermal size, corrosion, minimum",
        [
            *_transposed("Sizing of conductors", keys, lines),
            heading("Remarks") if remarks else None,
            listing(remarks),
        ],
    )


def _temperatures(row: ConductorResult) -> str:
    return f"{row.request.initial_temperature_c:g} … {row.final_temperature_c:g} °C"


def _corrosion(row: ConductorResult) -> str:
    request = row.request
    parts = []
    if request.corrosion_rate_mm_per_year:
        parts.append(f"{request.corrosion_rate_mm_per_year:g} mm/a, {request.life_years:g} a")
    if request.corrosion_area_fraction:
        parts.append(f"{100 * request.corrosion_area_fraction:g} % of the area")
    return " and ".join(parts) or "none allowed for"


def _limit_sources(study: Study) -> list[str]:
    """Clause, evidence and notes of the limits, each once."""
    rows = []
    for row in study.limits:
        evidence = f" ({row.evidence})" if row.evidence else ""
        if row.clause:
            rows.append(f"Touch: {row.clause}{evidence}")
        if row.step_clause:
            rows.append(f"Step: {row.step_clause}{evidence}")
    notes: dict[str, list[str]] = {}
    for row in study.limits:
        for note in row.notes:
            notes.setdefault(note, []).append(row.zone)
    rows += [f"{', '.join(dict.fromkeys(zones))}: {note}" for note, zones in notes.items()]
    return list(dict.fromkeys(rows))


def limits(study: Study) -> Block:
    """Tolerable voltages per zone with every factor."""
    found = {s.value: s.inputs for s in study.steps if s.info.symbol == "E_touch"}
    zones = {z.name: z for z in study.project.surface}
    times = {f.scenario.name: f.scenario.exposure_s for f in study.faults}
    rows = []
    for row in study.limits:
        inputs = found.get(row.touch_v, {})
        thickness = zones[row.zone].thickness_m if row.zone in zones else 0.0
        rows.append(
            [
                row.zone,
                row.scenario,
                format_value(times.get(row.scenario)),
                format_value(inputs["k"]) if "k" in inputs else "—",
                format_number(inputs["rho_s"]) if "rho_s" in inputs else "—",
                f"{thickness:g}" if thickness else "—",
                format_number(row.surface_factor),
                format_number(row.touch_v),
                format_number(row.step_v),
            ]
        )
    outside = [f"{r.zone}, {r.scenario}: {r.outside}" for r in study.limits if r.outside]
    assessment = study.project.assessment
    native = (
        assessment.native_resistivity_ohm_m or ((study.soil_used or study.soil.soil).resistivities_ohm_m[0])
    )
    return chapter(
        "Limits of touch and step voltage",
        [
            text(
                "The formulas and the numbers put into them are in the chapter “Calculation”. The columns "
                "give every factor."
            ),
            pairs(
                [
                    ("Standard", standards_text(study)),
                    ("Soil right under the feet", format_quantity(native, "ohm m")),
                    (
                        "Surface layer factor",
                        {"exact": "by image series"}.get(
                            assessment.surface_factor, "by the empirical formula"
                        ),
                    ),
                ]
            ),
            table(
                "Limits per zone and fault",
                [
                    "Zone",
                    "Fault",
                    math('t_s", s"'),
                    "k, A·√s",
                    math('rho_s", Ω·m"'),
                    math('h_s", m"'),
                    math("C_s"),
                    "Touch, V",
                    "Step, V",
                ],
                rows,
                align="llrrrrrrr",
                widths=["auto", "1fr", *["auto"] * 7],
                small=True,
            ),
            *person_blocks(study),
            listing(_limit_sources(study)),
            heading("Outside the range of validity") if outside else None,
            listing(outside),
        ],
    )
