"""The form of a site test as rows: what the plan prints, to be filled in and read back.

One table holds everything; its columns are ``COLUMNS``. :mod:`evenground.project` reads it.
"""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from evenground.project._tests_form import COLUMNS, LOADED, SETUP

if TYPE_CHECKING:
    from evenground._study_sitetest import SiteTests

__all__ = ["COLUMNS", "form_rows"]

Row = tuple[str | float | None, ...]
JOINTS, SAMPLES = 3, 3
"""Blank lines for joints and for samples of the cover."""


def _row(
    test: str,
    item: str | float,
    what: str,
    unit: str,
    expected: str | float | None = None,
    *,
    at_m: tuple[float, float] | None = None,
    angle_deg: float | None = None,
) -> Row:
    """A line with blanks to be filled in."""
    x, y = at_m or (None, None)
    return (test, item, what, unit, expected, None, angle_deg, x, y, None, "")


def form_rows(tests: SiteTests) -> list[Row]:
    """The form with its expected values; ``read`` and ``angle_deg`` are blank."""
    fall = tests.plan.fall
    rows = [
        _row("setup", SETUP["date"], "as 2026-03-02", "-"),
        _row("setup", SETUP["paths"], "yes or no", "-"),
        _row("setup", SETUP["current_distance"], "", "m", round(fall.current_distance_m, 1)),
        _row("setup", SETUP["current_bearing"], "from x", "deg", fall.current_bearing_deg),
        _row("setup", SETUP["potential_bearing"], "from x", "deg", fall.potential_bearing_deg),
        _row("setup", SETUP["step_ohm"], "", "ohm", 0.001),
        _row("setup", SETUP["spacing"], "blank: far apart", "m"),
        _row("setup", SETUP["meter_hz"], "", "Hz"),
        _row("setup", SETUP["step_v"], "", "V", 0.001),
        _row("setup", SETUP["injection_hz"], "", "Hz"),
        _row("setup", SETUP["remote_spacing"], "blank: at an angle", "m"),
        _row("setup", SETUP["remote_length"], "", "m"),
        _row("setup", SETUP["step_mohm"], "", "mohm", 0.001),
        _row("setup", SETUP["doubt_ohm"], "", "%", 5),
        _row("setup", SETUP["doubt_v"], "", "%", 10),
    ]
    rows += [
        _row("fall", round(p.distance_m, 1), "resistance", "ohm", round(p.expected_ohm, 5))
        for p in fall.positions
    ]
    rows += [
        _row("injection", "injected current", "", "A", angle_deg=0.0),
        _row("injection", "remote voltage", "mat to remote earth", "V"),
        _row("injection", "background voltage", "without injection", "V"),
    ]
    rows += [_row("path", name, "current", "A") for name in tests.paths]
    for place in tests.places:
        for more in ("", LOADED):
            at = (round(place.at_m[0], 3), round(place.at_m[1], 3))
            rows.append(_row("place", place.name, place.quantity + more, "V", at_m=at))
    rows += [
        _row("riser", c.riser, f"from {c.reference}", "mohm", _known(c.expected_mohm))
        for c in tests.continuity
    ]
    for number in range(1, JOINTS + 1):
        rows += [_row("joint", f"joint {number}", what, "mohm") for what in ("joint", "conductor")]
    for number in range(1, SAMPLES + 1):
        rows.append(_row("gravel", f"sample {number}", "thickness", "m"))
        rows.append(_row("gravel", f"sample {number}", "wet resistivity", "ohm m"))
    return rows


def _known(value: float) -> float | None:
    return round(value, 4) if isfinite(value) else None
