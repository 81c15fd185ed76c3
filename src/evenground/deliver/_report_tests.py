"""Chapter of the report about proof on site: dated tests against the prediction, series, upkeep."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from evenground.deliver._blocks import Block, chapter, figure, heading, listing, pairs, table, text
from evenground.deliver.format import format_number, format_percent, format_quantity, format_value
from evenground.model.study import Verdict

if TYPE_CHECKING:
    from evenground.model.site_test import SiteTestOutcome, TestSeries, TestsResult
    from evenground.model.study import Check, Study

__all__ = ["proof_on_site", "series_value"]

NEAREST = 6
"""Risers that pass and are shown all the same."""
_MEANING = (
    "pass: measured and predicted agree and no limit is broken; re-run with tested soil: they do not agree; "
    "mitigation: a limit is broken. It speaks of what was read and of nothing else."
)


def proof_on_site(study: Study) -> Block | None:
    """The chapter, or None when the project has neither tests nor upkeep."""
    result = study.tests
    if result is None:
        return None
    blocks: list[Block | None] = [text(_MEANING, style="note"), *_standing(result)]
    for outcome in result.tests:
        blocks += _one(outcome)
    blocks += [*_over_the_years(result), *_upkeep(result)]
    return chapter("Site tests and upkeep", blocks)


def _standing(result: TestsResult) -> list[Block | None]:
    if not result.tests:
        return [text("No site test is stated in the project file.")]
    rows = [[part, when, {"bold": p.outcome}, p.words] for part, when, p in result.standing]
    return [
        pairs(
            [
                ("Fault that voltages are scaled to", result.scenario),
                ("Current of the mat in that fault", format_quantity(result.fault_current_a, "A")),
                ("Resistance of the design", format_quantity(result.design_resistance_ohm, "ohm")),
            ]
        ),
        table(
            "How the site stands: for each part the newest test that has it",
            ["Part", "Test", "Outcome", "Remark"],
            rows,
            widths=["auto", "auto", "auto", "1fr"],
            small=True,
        ),
        listing(list(result.notes)) if result.notes else None,
    ]


def _one(outcome: SiteTestOutcome) -> list[Block | None]:
    blocks: list[Block | None] = [
        heading(f"Test of {outcome.date}: {outcome.name}"),
        pairs(
            [
                ("Outcome", outcome.verdict),
                ("Because", "; ".join(outcome.why)),
                ("Soil of the day", outcome.soil_of_the_day),
                ("Predicted on that day", format_quantity(outcome.predicted_ohm, "ohm")),
                ("Design over day of the test", format_number(outcome.season_factor, 4)),
            ]
        ),
        *_fall(outcome),
        *_places(outcome),
        *_risers(outcome),
        _checks(
            "Joints and cover", [c for c in outcome.checks if c.identity.startswith(("joint-", "gravel-"))]
        ),
        *_soil(outcome),
    ]
    flagged = [f"{f.message}{f' ({f.advice})' if f.advice else ''}" for f in outcome.findings]
    if flagged:
        blocks += [text("What the readings flag:"), listing(flagged)]
    return blocks


def _risers(outcome: SiteTestOutcome) -> list[Block | None]:
    """Every riser that does not pass, and those nearest to their limit; the rest is in study.json."""
    rows = [c for c in outcome.checks if c.identity.startswith("continuity-")]
    if not rows:
        return []
    kept = sorted((c for c in rows if c.verdict is Verdict.PASS), key=lambda c: c.margin or 0.0)
    bad = [c for c in rows if c.verdict is not Verdict.PASS]
    words = f"Continuity: {len(rows)} risers, {len(kept)} of them pass; shown are the others and the nearest"
    return [_checks(words, [*bad, *kept[:NEAREST]])]


def _fall(outcome: SiteTestOutcome) -> list[Block | None]:
    fall = outcome.fall
    if fall is None:
        return []
    coupled = {row.distance_m: row for row in outcome.coupled}
    rows = []
    for distance, value, stands in fall.each_ohm:
        part = coupled.get(distance)
        read = value if part is None else part.read_ohm
        row = [f"{distance:g} m", format_value(read, 4)]
        if coupled:
            row.append("—" if part is None else format_value(part.coupled_ohm, 3))
            row.append(format_value(value, 4))
        rows.append([*row, format_value(stands, 4)])
    columns = ["Potential probe", "Read, Ω"]
    columns += ["Coupled, Ω", "Corrected, Ω"] if coupled else []
    columns += ["Stands for, Ω"]
    spread = "none" if fall.spread is None else format_percent(fall.spread)
    bounds = f"{format_quantity(fall.low_ohm, 'ohm')} to {format_quantity(fall.high_ohm, 'ohm')}"
    unknown = any(not row.subtracted for row in outcome.coupled)
    return [
        pairs(
            [
                ("Resistance measured", format_quantity(fall.resistance_ohm, "ohm")),
                ("Bounds of it", bounds),
                ("The same for the design season", format_quantity(fall.design_ohm, "ohm")),
                ("Spread of the readings", spread),
                ("Band of agreement", format_percent(fall.band)),
            ]
        ),
        table(
            "Fall of potential: each reading that counts, divided by the simulated ratio of reading to truth",
            columns,
            rows,
            align="l" + "r" * (len(columns) - 1),
            widths=["1fr", *["auto"] * (len(columns) - 1)],
            small=True,
        ),
        text("Without an angle the coupled part widens the bounds and is not subtracted.", style="small")
        if unknown
        else None,
    ]


def _places(outcome: SiteTestOutcome) -> list[Block | None]:
    found = outcome.injection
    if found is None:
        return []
    share = "not decided" if found.split is None else format_percent(found.split)
    remote = outcome.coupled_remote_ohm
    rows = [
        [
            f"{p.name} ({p.quantity})" if p.quantity not in p.name else p.name,
            format_quantity(p.scaled_v, "V", 3),
            "—" if p.low_v is None or p.high_v is None else f"{_volts(p.low_v)} to {_volts(p.high_v)}",
            "—" if p.predicted_v is None else _volts(p.predicted_v),
            "—" if p.ratio is None else format_number(p.ratio, 3),
            "—" if p.limit_v is None else _volts(p.limit_v),
            {"bold": p.verdict.value},
        ]
        for p in found.places
    ]
    return [
        pairs(
            [
                ("Mat's share of the injected current", share),
                ("Impedance of the mat", format_quantity(found.mat_impedance_ohm, "ohm")),
                ("Impedance of the station", format_quantity(found.station_impedance_ohm, "ohm")),
                ("Rise of the mat in the fault", format_quantity(found.fault_rise_v, "V")),
                ("Coupled into the remote lead", "" if remote is None else f"{format_value(remote, 3)} Ω"),
            ]
        ),
        table(
            "Touch and step read during the injection, scaled to the fault and the design season",
            ["Place", "In the fault", "Bounds", "Predicted", "Ratio", "Limit", "Verdict"],
            rows,
            align="lrrrrrl",
            widths=["1fr", *["auto"] * 6],
            small=True,
        ),
    ]


def _volts(value: float) -> str:
    return format_quantity(value, "V", 3)


def _checks(caption: str, checks: Sequence[Check]) -> Block | None:
    rows = [
        [
            c.title,
            "—" if c.value is None else format_quantity(c.value, c.unit, 3),
            "—"
            if c.limit is None
            else ("at most " if c.sense == "max" else "at least ") + format_quantity(c.limit, c.unit, 3),
            {"bold": c.verdict.value},
            c.reason or "—",
        ]
        for c in checks
    ]
    columns = ["Check", "Value", "Wanted", "Verdict", "Remark"]
    return table(caption, columns, rows, widths=["1.2fr", "auto", "auto", "auto", "1fr"], small=True)


def _soil(outcome: SiteTestOutcome) -> list[Block | None]:
    tested = outcome.tested_soil
    if tested is None:
        return []
    words = f"{tested.soil.describe()} ({tested.reason})"
    rows: list[tuple[str, object]] = [("Soil that the test agrees with", words)]
    if outcome.verdict == "re-run with tested soil":
        rows.append(("To run the study with it", "evenground testresult, with --again"))
    return [pairs(rows)]


def series_value(value: float, unit: str) -> str:
    """A value of a series with its unit; a bare share as a percentage."""
    return format_quantity(value, unit, 3) if unit else format_percent(value)


def _over_the_years(result: TestsResult) -> list[Block | None]:
    if not any(len(s.trend.points) > 1 for s in result.series):
        return []
    return [
        heading("Over the years"),
        table(
            "Measured quantities over the tests; a trend needs three of them",
            ["Quantity", "First", "Newest", "Change", "Wanted", "Meets it"],
            [_series_row(s) for s in result.series],
            align="lrrrll",
            widths=["1fr", "auto", "auto", "auto", "auto", "auto"],
            small=True,
        ),
        figure(
            "site-tests", "Measured quantities over the years with what they must keep", "Tests over years"
        ),
    ]


def _series_row(s: TestSeries) -> list[object]:
    t = s.trend
    change = "—" if t.change_from_first is None else format_percent(t.change_from_first, sign=True)
    if t.slope_per_year is None:
        meets = t.verdict.value if t.reason else "—"
    else:
        meets = "not within 100 years" if t.crossing_year is None else f"until {t.crossing_year:.0f}"
        if t.crossing_early is not None:
            meets += f", at the earliest {t.crossing_early:.0f}"
    bound = ("at most " if t.sense == "max" else "at least ") + series_value(t.limit, s.unit)
    first, last = (series_value(p.value, s.unit) for p in (t.points[0], t.points[-1]))
    return [s.name, first, last, change, f"{bound} ({s.limit_words})", meets]


def _upkeep(result: TestsResult) -> list[Block | None]:
    if not result.tasks and not result.corrosion and not result.triggers:
        return []
    rows = [
        [
            t.name,
            f"{t.interval_years:g}",
            t.last_done or "never",
            t.due,
            {"bold": "overdue"} if t.overdue else "—",
            t.what,
        ]
        for t in result.tasks
    ]
    triggers = [f"{f.message}: {f.advice}" for f in result.triggers]
    return [
        heading("Upkeep"),
        table(
            f"Inspections as of {result.as_of}; a task never done counts from the day the metal was laid",
            ["Task", "Every, years", "Last done", "Due", "State", "What"],
            rows,
            align="lrllll",
            widths=["auto", "auto", "auto", "auto", "auto", "1fr"],
            small=True,
        ),
        _checks("Buried metal found in excavations against the allowance for corrosion", result.corrosion),
        text("What asks for a new study:") if triggers else text("Nothing stated asks for a new study."),
        listing(triggers) if triggers else None,
    ]
