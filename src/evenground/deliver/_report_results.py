"""Chapters of the report that say what came out: summary, results, field solution, what is open."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from evenground.deliver._blocks import Block, chapter, figure, heading, listing, math, table, text
from evenground.deliver._report_metal import metal_blocks, section_figures, touched
from evenground.deliver._report_person import risk_blocks, risk_sentences
from evenground.deliver._report_rules import rule_blocks
from evenground.deliver.format import (
    UNDECIDED,
    format_number,
    format_percent,
    format_place,
    format_quantity,
    format_value,
    unit_text,
)
from evenground.deliver.typst_math import symbol_math
from evenground.deliver.words import (
    limit_text,
    margin_text,
    standards_text,
    summary_sentences,
    verdict_word,
)
from evenground.model.study import Verdict, urgency

if TYPE_CHECKING:
    from evenground.model.study import Check, Study

__all__ = [
    "geometry",
    "maps",
    "results",
    "scope",
    "summary",
]

MOST_SUMMED = 9
"""Most checks on the summary page."""


def summary(study: Study) -> dict[str, Any]:
    """The one-page summary."""
    key = [
        ("Soil", (study.soil_used or study.soil.soil).describe() + _case_name(study)),
        (
            "Resistance to remote earth",
            f"{format_quantity(study.field.resistance_ohm, 'ohm')} ± "
            f"{format_quantity(study.field.resistance_error_ohm, 'ohm', 2)} (discretisation)",
        ),
    ]
    if study.gpr_v:
        name, rise = max(study.gpr_v.items(), key=lambda item: item[1])
        key.append(("Highest earth potential rise", f"{format_quantity(rise, 'V')}, fault “{name}”"))
        key += [
            (
                "Current split",
                f"{format_percent(s.result.split_factor)} of "
                f"{format_quantity(abs(s.result.fault_current_a), 'A')} through the mat (computed)",
            )
            for s in study.split
            if s.scenario == name
        ]
    key += [row for quantity in ("touch", "step") for row in _worst_pair(study, quantity)]
    key += [("Risk", words) for words in risk_sentences(study)]
    return {
        "verdict": verdict_word(study.verdict),
        "sentences": summary_sentences(study),
        "pairs": [list(row) for row in key],
        "checks": _first_checks([c for c in study.checks if c.governing]),
        "not_checked": list(study.not_checked),
        "findings": len(study.findings),
    }


def _worst_pair(study: Study, quantity: str) -> list[tuple[str, str]]:
    """Label and words of the worst touch or step voltage."""
    rows = [s for s in study.shocks if s.quantity == quantity]
    if not rows:
        return []
    worst = max(rows, key=lambda s: s.value_v / s.limit_v)
    words = (
        f"{format_quantity(worst.value_v, 'V')}, {100 * worst.value_v / worst.limit_v:.0f} % of the limit of "
        f"{format_quantity(worst.limit_v, 'V')}; zone “{touched(worst.zone, worst.metal)}”, "
        f"{format_place(worst.place)}"
    )
    return [(f"Worst {quantity} voltage at the mat and separate electrodes", words)]


def _case_name(study: Study) -> str:
    """Which soil case governs, when there are several."""
    names = [case.name for case in study.soil_cases if case.governs]
    return f" (case “{names[0]}”)" if names and len(study.soil_cases) > 1 else ""


def _first_checks(checks: list[Check]) -> Block | None:
    """The checks for the summary page: broken and undecided ones first, as many as the page holds."""
    order = {Verdict.FAIL: 0, Verdict.NOT_DECIDED: 1, Verdict.PASS: 2}
    shown = checks
    if len(checks) > MOST_SUMMED:
        first = sorted(checks, key=lambda c: (order[c.verdict], urgency(c)))
        shown = first[:MOST_SUMMED]
    more = len(checks) - len(shown)
    left = {c.verdict for c in checks if c not in shown}
    words = "all kept" if left <= {Verdict.PASS} else "some of them broken or not decided"
    caption = "Limits that decide the verdict"
    if more:
        caption += f"; {more} more, {words}, are in the chapter Results"
    return _check_table(caption, shown)


def _check_table(caption: str, checks: list[Check]) -> Block | None:
    rows = [
        [
            c.title if c.governing else f"{c.title} (comparison)",
            {"bold": verdict_word(c.verdict)},
            "—" if c.value is None and c.limit is None else format_quantity(c.value, c.unit),
            limit_text(c),
            margin_text(c),
            "; ".join(p for p in (format_place(c.place), c.scenario) if p) or "—",
        ]
        for c in checks
    ]
    return table(
        caption,
        ["Check", "Verdict", "Value", "Limit", "Margin", "Place and fault"],
        rows,
        align="llrrrl",
        widths=["1.3fr", "auto", "auto", "auto", "auto", "1fr"],
        small=True,
    )


def scope(study: Study) -> Block:
    """Which standards, and what the method is."""
    a = study.project.assessment
    one = "at one potential" if study.metal_drop is None else "with the impedance of its metal"
    area = "a stated area" if a.touch_area_m else f"inside the mats and {a.touch_reach_m:g} m beyond"
    return chapter(
        "Scope, standards and method",
        [
            text(
                f"Touch and step voltages are judged by: {standards_text(study)}. "
                f"Touch is looked for {area}, with a reach of {a.reach_m:g} m; step inside the mats and "
                f"{a.step_outside_m:g} m beyond. The raster of the search is {a.raster_m:g} m, refined "
                "around the worst places."
            ),
            text(
                f"The electrode is solved as thin conductors in horizontally layered soil, {one}, "
                "for one ampere; fault currents, durations and covers are applied to that solution. Hand "
                "formulas of the standards stand beside it where their range of validity allows."
            ),
            text(
                "The appendix of formulas lists every formula that was evaluated, with its source, and says "
                "how well that source is known."
            ),
        ],
    )


def geometry(study: Study) -> Block:
    """Quantities and what the model takes for granted."""
    labels = {
        "mat_conductor_m": ("Mat conductor", "m"),
        "run_conductor_m": ("Further horizontal conductor", "m"),
        "rods": ("Rods", ""),
        "rod_length_m": ("Rods, total length", "m"),
        "joints_horizontal": ("Crossings and tees to be joined", ""),
        "area_m2": ("Area of the mats", "m2"),
    }
    rows = []
    for key, value in study.quantities.items():
        label, unit = labels.get(key, (key.replace("_", " "), ""))
        shown = (
            f"{format_value(value)} {unit_text(unit)}".strip()
            if isinstance(value, int | float)
            else str(value)
        )
        rows.append([label, shown])
    kinds = dict.fromkeys(c.kind for c in study.electrode)
    kind_rows = []
    for kind in kinds:
        part = study.electrode.of_kind(kind)
        radii = sorted({round(1000 * c.radius_m, 3) for c in part})
        depths = sorted({c.start_m[2] for c in part} | {c.end_m[2] for c in part})
        kind_rows.append(
            [
                kind,
                str(len(part)),
                format_value(part.total_length_m),
                ", ".join(f"{r:g}" for r in radii),
                f"{depths[0]:g}" if len(depths) == 1 else f"{depths[0]:g} to {depths[-1]:g}",
            ]
        )
    return chapter(
        "Geometry and quantities",
        [
            table("Quantities from the drawn layout, without waste", ["Item", "Quantity"], rows, align="lr"),
            table(
                "Conductors of the model",
                ["Kind", "Pieces", "Length, m", "Radius, mm", "Depth, m"],
                kind_rows,
                align="lrrrr",
            ),
        ],
    )


def results(study: Study) -> Block:
    """Resistance, potential rise, checks, worst places, hand formulas beside the field solution."""
    currents = {f.scenario.name: f.grid_current_a for f in study.faults}
    rise = [
        [name, format_quantity(currents.get(name), "A"), format_quantity(value, "V")]
        for name, value in study.gpr_v.items()
    ]
    shocks = [
        [
            s.quantity,
            touched(s.zone, s.metal),
            s.scenario,
            format_number(s.value_v),
            format_number(s.limit_v),
            f"{100 * s.value_v / s.limit_v:.0f}",
            f"{s.place.x_m:.2f}, {s.place.y_m:.2f}".replace("-", "−"),
            "—" if s.direction_deg is None else f"{s.direction_deg:.0f}°",
            f"{100 * s.change:.2g} %{'' if s.converged else ' (not settled)'}",
        ]
        for s in study.shocks
    ]
    return chapter(
        "Results",
        [
            text(
                f"Resistance to remote earth {format_quantity(study.field.resistance_ohm, 'ohm')}, "
                f"estimated error {format_quantity(study.field.resistance_error_ohm, 'ohm', 2)}."
            ),
            table(
                "Earth potential rise",
                ["Fault", "Current through the mat", "Potential rise"],
                rise,
                align="lrr",
                widths=["1fr", "auto", "auto"],
            ),
            _check_table("All checks", list(study.checks)),
            listing([f"{c.title}: {c.reason}" for c in study.checks if c.reason]),
            table(
                "Worst touch and step voltage in each zone. “Moved” is the change in the last refinement",
                ["", "Zone", "Fault", "V", "Limit, V", "%", "x, y, m", "Direction", "Moved"],
                shocks,
                align="lllrrrrrr",
                widths=["auto", "auto", "1fr", *["auto"] * 6],
                small=True,
            ),
            *metal_blocks(study),
            *risk_blocks(study),
            *rule_blocks(study),
            *_other_standards(study),
            *_hand_formulas(study),
        ],
    )


def _other_standards(study: Study) -> list[Block | None]:
    """The same voltages against other standards, when that was asked for."""
    if not study.comparison:
        return []

    def share(value: float | None, limit: float | None) -> str:
        return "—" if value is None or limit is None else f"{100 * value / limit:.0f} %"

    remarks = dict.fromkeys(row.remark for row in study.comparison if row.remark)
    numbers = {remark: n for n, remark in enumerate(remarks, 1)}
    rows = [
        [
            f"{row.title} ({row.edition})" if row.edition else row.title,
            row.zone,
            row.scenario,
            "none" if row.touch_limit_v is None else format_number(row.touch_limit_v),
            share(row.touch_v, row.touch_limit_v),
            "none" if row.step_limit_v is None else format_number(row.step_limit_v),
            share(row.step_v, row.step_limit_v),
            str(numbers[row.remark]) if row.remark else "—",
        ]
        for row in study.comparison
    ]
    return [
        heading("The same voltages against other standards"),
        text(
            "A comparison, which decides nothing. Each standard takes what it knows of ground, shoes and "
            "duration; where it gives no limit, the remark says why."
        ),
        table(
            "Worst touch and step voltage in per cent of the limit of each standard",
            ["Standard", "Zone", "Fault", "Touch limit, V", "Touch", "Step limit, V", "Step", "Remark"],
            rows,
            align="lllrrrrr",
            widths=["1.6fr", "auto", "1fr", "auto", "auto", "auto", "auto", "auto"],
            small=True,
        ),
        table(
            "Remarks by their number in the table above",
            ["No.", "Remark"],
            [[str(n), remark] for remark, n in numbers.items()],
            align="rl",
            widths=["auto", "1fr"],
            small=True,
        ),
    ]


def _hand_formulas(study: Study) -> list[Block | None]:
    hand = study.closed_form
    numeric = study.field.resistance_ohm
    resistance = []
    for name, value in hand.resistance_ohm.items():
        off = "—" if value is None else format_percent(value / numeric - 1, sign=True)
        resistance.append([name, format_quantity(value, "ohm"), off, hand.reasons.get(name, "—")])
    voltages = []
    for what, values, quantity in (("Mesh", hand.mesh_v, "touch"), ("Step", hand.step_v, "step")):
        for scenario, value in values.items():
            rows = [
                s.value_v
                for s in study.shocks
                if (s.quantity, s.scenario, s.metal) == (quantity, scenario, "")
            ]
            shown = UNDECIDED if value is None else format_quantity(value, "V")
            voltages.append([what, scenario, shown, format_quantity(max(rows, default=None), "V")])
    why = [f"{k}: {hand.reasons[k]}" for k in ("mesh", "step") if k in hand.reasons]
    symbols = [math(symbol_math(k)) for k in hand.geometry]
    factors = [[format_value(v, 4) for v in hand.geometry.values()]] if symbols else []
    return [
        heading("Hand formulas beside the field solution"),
        text(
            "Hand formulas describe a regular mat in uniform soil of "
            f"{format_quantity(hand.resistivity_ohm_m, 'ohm m')}. They are a comparison and never decide "
            "the study."
        ),
        table(
            "Resistance by hand formulas, and how far each lies from the field solution",
            ["Formula", "Resistance", "Off", "Remark"],
            resistance,
            align="lrrl",
            widths=["auto", "auto", "auto", "1fr"],
        ),
        table(
            "Mesh and step voltage by hand formulas; beside them the worst touch and step voltage of the "
            "field solution",
            ["", "Fault", "Hand formula", "Field solution"],
            voltages,
            align="llrr",
            widths=["auto", "1fr", "auto", "auto"],
        ),
        listing(why),
        table("Factors of the hand formulas", symbols, factors, align="r" * len(symbols), small=True),
    ]


def maps(study: Study) -> Block:
    """Maps and profiles."""
    name = study.map.scenario
    blocks: list[Block | None] = [
        text(
            f"Maps and profiles belong to the fault “{name}”, which governs touch voltage. The bold line "
            "marks where the limit is reached; the hatched area lies above it."
        ),
        figure("map-touch", "Touch voltage in per cent of the limit at each place", "Map of touch voltage"),
        figure("map-step", "Step voltage in per cent of the limit at each place", "Map of step voltage"),
        figure(
            "map-potential", "Surface potential in per cent of the earth potential rise", "Map of potential"
        ),
    ]
    for number, profile in enumerate(study.profiles, start=1):
        blocks.append(figure(f"profile-{number}", f"Profile {profile.name}", f"Profile {profile.name}"))
    return chapter("Maps and profiles", [*blocks, *section_figures(study)])
