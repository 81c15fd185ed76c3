"""Upkeep: tasks that are due, corrosion, gravel, triggers, and series over the years."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t as student

from evenground.errors import Finding, InputError, Severity
from evenground.model.sitetest import (
    CorrosionReading,
    GravelReading,
    SeriesPoint,
    SiteChange,
    Trend,
    UpkeepTask,
)
from evenground.model.study import Check, Verdict
from evenground.sitetest._library import TASKS

__all__ = ["corrosion_state", "due_tasks", "gravel_state", "reassessment_triggers", "trend"]

_FAR_YEARS = 100.0
_GROWN = 1.05
"""Metal does not grow: a reading above the size installed by more than its tolerance is a mistake."""


def due_tasks(
    last_done: Mapping[str, str], today: str, tasks: Sequence[UpkeepTask] = TASKS
) -> tuple[UpkeepTask, ...]:
    """Every task with its due date; one that was never done is overdue. Dates as ``2026-05-04``.

    Raises
    ------
    InputError
        For a date that can not be read, or a task that is not in the list.
    """
    strange = set(last_done) - {t.name for t in tasks}
    if strange:
        raise InputError(f"not in the list of tasks: {', '.join(sorted(strange))}")
    now = _date("today", today)
    rows = []
    for task in tasks:
        done = last_done.get(task.name, "")
        if not done:
            rows.append(replace(task, due=now.isoformat(), overdue=True))
            continue
        due = _date(task.name, done) + timedelta(days=round(365.25 * task.interval_years))
        rows.append(replace(task, last_done=done, due=due.isoformat(), overdue=due < now))
    return tuple(rows)


def _date(name: str, text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise InputError(f"{name}: {text!r} is not a date like 2026-05-04") from error


def trend(
    points: Sequence[SeriesPoint], limit: float, *, sense: str = "max", confidence: float = 0.9
) -> Trend:
    """Straight line through a series over years, and when it may meet a limit.

    The early crossing uses the prediction bound of the line at this (two-sided) confidence. With fewer than
    three values, or all in one year, there is no line; the verdict then speaks of the latest value alone.

    Raises
    ------
    InputError
        For an empty series, a number that is not finite, or a sense other than max or min.
    """
    rows = sorted(points, key=lambda p: p.year)
    if not rows or not all(math.isfinite(v) for p in rows for v in (p.year, p.value)):
        raise InputError("points: a series needs finite values")
    if sense not in ("max", "min"):
        raise InputError(f"sense: {sense!r} is neither max nor min")
    sign = 1.0 if sense == "max" else -1.0
    year = np.array([p.year for p in rows])
    value = sign * np.array([p.value for p in rows])
    latest = Verdict.PASS if value[-1] <= sign * limit else Verdict.FAIL
    change = rows[-1].value / rows[0].value - 1.0 if rows[0].value else None
    bare = Trend(
        points=tuple(rows),
        slope_per_year=None,
        slope_uncertainty=None,
        limit=limit,
        sense=sense,
        crossing_year=None,
        crossing_early=None,
        change_from_first=change,
        verdict=latest,
        reason="fewer than three years: no trend",
    )
    if len(rows) < 3 or np.ptp(year) == 0.0:
        return bare
    middle = float(year.mean())
    spread = float(np.sum((year - middle) ** 2))
    slope = float(np.sum((year - middle) * value) / spread)
    level = float(value.mean())
    rest = value - level - slope * (year - middle)
    sigma = math.sqrt(float(np.sum(rest**2)) / (len(rows) - 2))
    quantile = float(student.ppf(0.5 + 0.5 * confidence, len(rows) - 2))

    def upper(at: float) -> float:
        width = sigma * math.sqrt(1.0 + 1.0 / len(rows) + (at - middle) ** 2 / spread)
        return level + slope * (at - middle) + quantile * width

    ahead = float(year[-1]) + np.linspace(0.0, _FAR_YEARS, 2001)
    line = level + slope * (ahead - middle)
    return replace(
        bare,
        slope_per_year=sign * slope,
        slope_uncertainty=quantile * sigma / math.sqrt(spread),
        crossing_year=_first(ahead, line > sign * limit),
        crossing_early=_first(ahead, np.array([upper(float(a)) for a in ahead]) > sign * limit),
        reason="",
    )


def _first(years: NDArray[np.float64], over: NDArray[np.bool_]) -> float | None:
    return float(years[int(np.argmax(over))]) if bool(np.any(over)) else None


def corrosion_state(
    readings: Sequence[CorrosionReading],
    *,
    installed_year: float,
    installed_thickness_mm: float,
    needed_thickness_mm: float,
    life_years: float,
) -> Check:
    """Whether the section found, with the loss so far carried on, lasts to the end of the design life.

    The fastest loss found governs: corrosion is local. The loss is taken as constant in time.

    Raises
    ------
    InputError
        When a thickness or year makes no sense.
    """
    if not installed_thickness_mm > needed_thickness_mm > 0 or not life_years > 0:
        raise InputError("thicknesses, life: installed above needed above 0, and a life above 0 are needed")
    bad = [r for r in readings if r.year <= installed_year or not r.thickness_mm >= 0]
    if bad:
        raise InputError(f"{bad[0].place}: a reading before installation or a thickness below 0")
    thick = [r for r in readings if r.thickness_mm > _GROWN * installed_thickness_mm]
    if thick:
        raise InputError(
            f"{thick[0].place}: {thick[0].thickness_mm:g} mm is more than the {installed_thickness_mm:g} mm "
            "installed; check unit and place"
        )
    end: float | None = None
    verdict, reason = Verdict.NOT_DECIDED, "nothing was excavated"
    if readings:
        losses = [
            ((installed_thickness_mm - r.thickness_mm) / (r.year - installed_year), r.place) for r in readings
        ]
        rate, where = max(losses)
        end = installed_thickness_mm - max(rate, 0.0) * life_years
        verdict = Verdict.PASS if end >= needed_thickness_mm else Verdict.FAIL
        reason = f"fastest loss {rate:.3g} mm a year at {where}"
        if min(r.thickness_mm for r in readings) < needed_thickness_mm:
            verdict, reason = Verdict.FAIL, f"{reason}; already too thin"
        elif verdict is Verdict.FAIL:
            years = (installed_thickness_mm - needed_thickness_mm) / rate
            reason += f"; enough until about {installed_year + years:.0f}"
    return Check(
        identity="corrosion-life",
        title="Thickness at the end of the design life",
        verdict=verdict,
        value=end,
        limit=needed_thickness_mm,
        unit="mm",
        sense="min",
        clause="common practice: loss carried on at a constant rate",
        method="excavation",
        reason=reason,
    )


def gravel_state(
    readings: Sequence[GravelReading], *, design_thickness_m: float, design_resistivity_ohm_m: float
) -> tuple[Check, Check]:
    """Thickness and wet resistivity of the cover at its worst sample, against the design."""
    thin = min(readings, key=lambda r: r.thickness_m, default=None)
    tested = [r for r in readings if r.wet_resistivity_ohm_m is not None]
    poor = min(tested, key=lambda r: r.wet_resistivity_ohm_m or 0.0, default=None)
    fouled = [r.place for r in readings if r.fouled]
    note = f"fines at {', '.join(fouled)}" if fouled else ""

    def verdict(value: float | None, limit: float) -> Verdict:
        if value is None or not math.isfinite(value):
            return Verdict.NOT_DECIDED
        return Verdict.PASS if value >= limit else Verdict.FAIL

    thickness = None if thin is None else thin.thickness_m
    resistivity = None if poor is None else poor.wet_resistivity_ohm_m
    untested = len(readings) - len(tested)
    return (
        Check(
            identity="gravel-thickness",
            title="Thickness of the cover at its thinnest sample",
            verdict=verdict(thickness, design_thickness_m),
            value=thickness,
            limit=design_thickness_m,
            unit="m",
            sense="min",
            method="sampling",
            reason="no sample" if thin is None else f"at {thin.place}" + (f"; {note}" if note else ""),
        ),
        Check(
            identity="gravel-resistivity",
            title="Wet resistivity of the cover at its worst sample",
            verdict=verdict(resistivity, design_resistivity_ohm_m),
            value=resistivity,
            limit=design_resistivity_ohm_m,
            unit="ohm m",
            sense="min",
            method="sampling",
            reason="no sample was tested wet"
            if poor is None
            else f"at {poor.place}"
            + (f"; {untested} samples not tested" if untested else "")
            + (f"; {note}" if note else ""),
        ),
    )


_TRIGGERS: tuple[tuple[str, float | None, str], ...] = (
    ("fault_current_a", 0.0, "the fault current has grown"),
    ("clearing_time_s", 0.0, "the fault takes longer to clear"),
    ("mat_resistance_ohm", 0.20, "the resistance has risen by more than 20 % (IS 3043: investigate)"),
    ("split_factor", 0.0, "a larger part of the fault current enters the mat"),
    ("mat_area_m2", None, "the mat was extended or cut"),
    ("boundary_metal", None, "metal that crosses the boundary was added or changed"),
    ("fence", None, "the fence or a gate was moved"),
    ("surface", None, "the cover was changed"),
    ("standard", None, "the standard or its edition was changed"),
)


def reassessment_triggers(change: SiteChange) -> tuple[Finding, ...]:
    """What has changed since the design so that the study must be run again.

    Numbers trigger when they rose by more than their share (fault current and clearing time: at all);
    other entries trigger when they differ. A value known for one side only is reported as open.
    """
    findings = []
    for name, share, words in _TRIGGERS:
        then, now = change.design.get(name), change.now.get(name)
        if then is None and now is None:
            continue
        if then is None or now is None:
            code = f"trigger-{name.replace('_', '-')}-open"
            findings.append(Finding(code, f"{name}: known for one side only", "find out", Severity.WARNING))
            continue
        if share is None:
            hit = then != now
        elif isinstance(then, str) or isinstance(now, str):
            raise InputError(f"{name}: must be a number")
        else:
            hit = now > then * (1.0 + share) * (1.0 + 1e-9)
        if hit:
            findings.append(
                Finding(
                    f"trigger-{name.replace('_', '-')}",
                    f"{words}: {then} at design, {now} now",
                    "run the study again with the values of today",
                )
            )
    return tuple(findings)
