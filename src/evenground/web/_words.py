"""A study in words for the page: the verdict with its scope, rows of checks, why a place is the worst."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING, Any

import shapely
from shapely.geometry import LineString, Point

from evenground._study_quick import FIRST_LOOK_ERROR
from evenground.deliver.format import format_place, format_quantity, format_value, unit_text
from evenground.deliver.words import (
    check_sentence,
    margin_text,
    split_sentence,
    standards_text,
    summary_sentences,
)
from evenground.model.study import Verdict, urgency
from evenground.standards.limits import STANDARDS

if TYPE_CHECKING:
    from evenground.model.study import Check, Study
    from evenground.provenance import Step

__all__ = [
    "FIRST_LOOK",
    "check_rows",
    "explain",
    "figure_steps",
    "headline",
    "key_figures",
    "label_words",
    "limit_steps",
    "marks",
    "state_words",
    "step_rows",
    "steps_of",
    "zone_of",
]

FIRST_LOOK = (
    f"On a wide raster: touch and step within about {FIRST_LOOK_ERROR:.0%}, without fences, services and "
    "lightning; the exact answer is being computed."
)
STATE = {
    Verdict.PASS: ("within", "✓", "Within the limits checked"),
    Verdict.FAIL: ("broken", "✕", "Limit broken"),
    Verdict.NOT_DECIDED: ("open", "?", "Not decided"),
}
"""Verdict -> class, sign, words. Signs and words differ in shape, not in colour only."""


def headline(study: Study) -> dict[str, str]:
    """Verdict in words with its scope: what was checked, against what, how much was not.

    A first look never shows the sign of a passed study, since what it leaves out may still be broken.
    """
    css, sign, words = STATE[study.verdict]
    if study.verdict is Verdict.PASS and any(f.code == "first-look" for f in study.findings):
        css, sign, words = "open", "…", "No limit broken so far"
    sentences = summary_sentences(study)
    return {
        "class": css,
        "sign": sign,
        "words": words,
        "scope": f"{standards_text(study)}; {len(study.not_checked)} subjects not checked",
        "text": sentences[0],
        "governing": sentences[1] if len(sentences) > 1 else "",
    }


def key_figures(study: Study) -> list[tuple[str, str]]:
    """The figures a reviewer asks for first."""
    error = format_quantity(study.field.resistance_error_ohm, "ohm", 2)
    rise = max(study.gpr_v.values(), default=float("nan"))
    return [
        ("Resistance to earth", f"{format_quantity(study.field.resistance_ohm, 'ohm')} ± {error}"),
        ("Largest potential rise", format_quantity(rise, "V")),
        *(("Where the current goes", split_sentence(row)) for row in study.split),
        ("Soil", study.soil.soil.describe()),
        ("Conductor in the ground", f"{study.electrode.total_length_m:.0f} m"),
        ("Rods", str(study.quantities.get("rods", 0))),
    ]


def check_rows(study: Study) -> list[dict[str, Any]]:
    """Every check as a row; the governing ones with the smallest margin first."""
    order = sorted(study.checks, key=lambda c: (not c.governing, urgency(c), c.title))
    return [_row(c) for c in order]


def state_words(check: Check) -> str:
    """The outcome of one check in words."""
    return "Within limit" if check.verdict is Verdict.PASS else STATE[check.verdict][2]


def label_words(label: str) -> str:
    """What a formula was evaluated for, with the standard by its name instead of its key."""
    head, parted, rest = label.partition(": ")
    key, comma, time = rest.partition(", ")
    entry = STANDARDS.get(key)
    return f"{head}{parted}{entry.title}{comma}{time}" if entry else label or "soil and faults"


def _row(check: Check) -> dict[str, Any]:
    css, sign, _ = STATE[check.verdict]
    use, bare = None, check.value is None and check.limit is None  # a judgement without a number
    if check.value is not None and check.limit:
        use = check.value / check.limit if check.sense == "max" else check.limit / max(check.value, 1e-12)
    return {
        "identity": check.identity,
        "title": check.title,
        "class": css,
        "sign": sign,
        "words": state_words(check),
        "value": "" if bare else format_quantity(check.value, check.unit),
        "relation": "" if bare else _relation(check),
        "limit": "" if bare else format_quantity(check.limit, check.unit),
        "margin": margin_text(check),
        "use": use,
        "where": format_place(check.place),
        "scenario": check.scenario,
        "clause": check.clause,
        "method": check.method,
        "governing": check.governing,
        "reason": check.reason,
        "sentence": check_sentence(check),
    }


def _relation(check: Check) -> str:
    """What stands between value and limit: it is true as it is read, also where the limit is broken."""
    if check.value is None or check.limit is None:
        return "against"
    kept = check.value <= check.limit if check.sense == "max" else check.value >= check.limit
    return {("max", True): "≤", ("max", False): ">", ("min", True): "≥", ("min", False): "<"}[
        check.sense, kept
    ]


def marks(study: Study) -> list[dict[str, Any]]:
    """Places to mark on the plan; the gravest last, so that no other mark covers it.

    T and S stand at the worst touch and step. A check of another kind that has a place, such as an arrester
    or a mast, has no letter of its own; it is marked with its sign, and only where it is not kept.
    """
    rows = []
    for check in study.checks:
        letter = {"touch": "T", "step-": "S"}.get(check.identity[:5], "")
        state, sign, _ = STATE[check.verdict]
        if check.place is None or not (letter or check.verdict is not Verdict.PASS):
            continue
        rows.append(
            {
                "name": check.identity,
                "letter": letter or {"broken": "!"}.get(state, sign),
                "place": [check.place.x_m, check.place.y_m],
                "verdict": state,
                "words": check_sentence(check),
            }
        )
    order = ("within", "open", "broken")
    return sorted(rows, key=lambda r: (order.index(r["verdict"]), r["letter"] == "T"))


def explain(study: Study, check: Check) -> list[str]:
    """Why the worst place is where it is, from the geometry around it."""
    if check.place is None:
        return []
    point = Point(check.place.x_m, check.place.y_m)
    flat = [c for c in study.electrode if hypot(c.end_m[0] - c.start_m[0], c.end_m[1] - c.start_m[1]) > 1e-6]
    wires = [LineString([c.start_m[:2], c.end_m[:2]]) for c in flat]
    rods = [Point(c.start_m[:2]) for c in study.electrode if c.kind == "rod"]
    touch = check.identity.startswith("touch")
    words = []
    if wires:
        near = min(w.distance(point) for w in wires)
        words.append(f"The nearest buried conductor is {near:.2f} m away in plan.")
        words += _inside(point, wires, touch)
    if rods:
        words.append(f"The nearest rod is {min(r.distance(point) for r in rods):.1f} m away.")
    rise = study.gpr_v.get(check.scenario)
    if rise and check.value is not None and touch:
        words.append(
            f"The metal rises to {format_quantity(rise, 'V')}; the ground here follows to "
            f"{format_quantity(rise - check.value, 'V')} ({(rise - check.value) / rise:.0%}), "
            f"the rest of {format_quantity(check.value, 'V')} is touched."
        )
    return [*words, *_levers(study, check, touch)]


def _inside(point: Point, wires: list[LineString], touch: bool) -> list[str]:
    parted = shapely.get_parts(shapely.union_all(wires))
    for cell in shapely.get_parts(shapely.polygonize(parted)):
        if cell.contains(point):
            x0, y0, x1, y1 = cell.bounds
            return [f"It lies in a mesh of {x1 - x0:.1f} m × {y1 - y0:.1f} m."]
    if touch:
        return ["It lies outside the outermost conductor, where the ground falls away quickest."]
    return ["It lies beyond the rim of the metal, where the ground falls away quickest."]


def _levers(study: Study, check: Check, touch: bool) -> list[str]:
    """What usually moves this number; named only when the check is not comfortably kept."""
    if check.margin is None or check.margin > 0.15:
        return []
    if touch:
        return [
            "What usually helps here: closer mesh lines on this side, a conductor 1 m outside the rim, rods "
            "where the deeper soil conducts better, a cover of known resistivity, a shorter clearing time."
        ]
    return [
        "What usually helps here: a conductor further out and deeper than the rim, so that the fall is "
        "spread; cover beyond the fence."
    ]


def zone_of(study: Study, check: Check) -> str:
    """The zone whose limit a check of touch or step is held against; empty for other checks."""
    if check.unit != "V" or not check.scenario:
        return ""
    place = check.place.description if check.place else ""
    zones = sorted({limit.zone for limit in study.limits}, key=len, reverse=True)
    return next((z for z in zones if z == place or z in check.title), "")


def limit_steps(study: Study, zone: str, scenario: str) -> list[Step]:
    """The formulas behind the tolerable voltages of a zone for a fault."""
    stem = f"{zone}, {scenario}"
    return [s for s in study.steps if s.label == stem or s.label.startswith(f"{stem}:")]


def figure_steps(study: Study, name: str) -> tuple[list[str], list[Step]]:
    """What stands behind a key figure: sentences, and formulas."""
    field = study.field
    if name == "Resistance to earth":
        closed = [
            f"{formula}: {format_quantity(value, 'ohm')}"
            for formula, value in study.closed_form.resistance_ohm.items()
            if value is not None
        ]
        words = [
            f"Field solution with {field.segments} segments (longest {field.longest_segment_m:.2f} m) in "
            f"{field.layers} layers, method: {field.method}. Estimated error "
            f"{format_quantity(field.resistance_error_ohm, 'ohm', 2)}; residual {field.residual:.1e}, "
            f"energy balance {field.energy_balance:.1e}.",
            *field.notes,
        ]
        words += [f"Hand formulas beside it, for comparison: {'; '.join(closed)}."] if closed else []
        return words, [s for s in study.steps if s.info.unit == "ohm" and s.label == "hand formulas"]
    if name == "Largest potential rise":
        rise = max(study.gpr_v, key=lambda k: study.gpr_v[k], default="")
        return [f"Fault “{rise}”."], [s for s in study.steps if s.label == rise]
    if name == "Where the current goes":
        words = [split_sentence(row) for row in study.split]
        words.append("The panel Current shows the current in every path.")
        names = {row.scenario for row in study.split} | {"estimate of Annex C"}
        return words, [s for s in study.steps if s.label in names]
    if name == "Soil":
        rows = [s for s in study.steps if not s.label]
        return [f"{study.soil.chosen}: {study.soil.reason}", *study.soil.warnings], rows
    return ["Measured from the layout; the panel Quantities lists it."], []


def steps_of(study: Study, check: Check) -> list[Step]:
    """The formulas behind a check: those of its zone and fault first, then of the fault's current."""
    zone = zone_of(study, check)
    rows = limit_steps(study, zone, check.scenario) if zone else []
    labels = {check.scenario, check.place.description if check.place else ""} - {""}
    if check.identity.startswith("closed-form"):
        labels.add("hand formulas")
    rows += [s for s in study.steps if s.label in labels]
    if check.identity.startswith("conductor-"):
        key = check.identity.removeprefix("conductor-").removesuffix("-minimum")
        rows += [s for s in study.steps if key in s.label.split() or s.label.startswith(key)]
        rows += [s for s in study.steps if "conductor" in s.info.name or "thermal" in s.info.name]
    return list({id(s): s for s in rows}.values())


def step_rows(steps: list[Step]) -> list[dict[str, Any]]:
    """Formulas with what went in and what came out."""
    return [
        {
            "label": label_words(s.label),
            "name": s.info.name,
            "symbol": s.info.symbol,
            "value": f"{format_value(s.value)} {unit_text(s.info.unit)}".strip(),
            "form": s.info.form or s.info.text,
            "inputs": [
                (symbol, str(s.info.symbols.get(symbol, "")).replace("_", " "), format_value(value))
                for symbol, value in s.inputs.items()
            ],
            "source": s.info.source,
            "valid": ", ".join(s.info.valid),
            "outside": ", ".join(s.outside),
        }
        for s in steps
    ]
