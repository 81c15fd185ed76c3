"""All standards side by side on one piece of ground."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from evenground.errors import NotConvergedError, OutOfRangeError
from evenground.model.site import SurfaceZone
from evenground.standards._checks import need
from evenground.standards.limits._register import STANDARDS, tolerable
from evenground.standards.limits.shapes import LimitCase, Limits

__all__ = ["ComparisonRow", "case_for_zone", "compare_limits"]

_FREE = "free"


@dataclass(frozen=True, slots=True)
class ComparisonRow:
    """Limits of one standard for one duration in one zone. [s]"""

    key: str
    title: str
    edition: str
    basis: str
    zone: str
    shock_time_s: float
    limits: Limits


def case_for_zone(
    standard: str, zone: SurfaceZone, shock_time_s: float, native_resistivity_ohm_m: float
) -> LimitCase:
    """The case of a person in a surface zone, everything else as the standard takes it."""
    covered = zone.resistivity_ohm_m is not None and zone.thickness_m > 0.0
    return LimitCase(
        standard,
        shock_time_s,
        native_resistivity_ohm_m,
        surface_resistivity_ohm_m=zone.resistivity_ohm_m if covered else None,
        surface_thickness_m=zone.thickness_m if covered else 0.0,
    )


def compare_limits(
    zone: SurfaceZone,
    shock_times_s: Sequence[float],
    native_resistivity_ohm_m: float,
    *,
    standards: Iterable[str] | None = None,
    options: LimitCase | None = None,
) -> tuple[ComparisonRow, ...]:
    """Limits of many standards for one zone.

    Parameters
    ----------
    zone : SurfaceZone
    shock_times_s : sequence of float
        [s]
    native_resistivity_ohm_m : float
        Soil under the feet or the cover. [ohm m]
    standards : iterable of str or None
        Keys; None: all but the free case.
    options : LimitCase or None
        Footwear, footing, body, ... for all of them; standard, time and ground of it do not count. None: each
        standard's own.

    Returns
    -------
    tuple of ComparisonRow
        Ordered by time as given, then by standard. A standard that refuses the input has no voltages and says
        why in ``limits.outside``.

    Raises
    ------
    OutOfRangeError
        For an unknown standard, or a ground or time that is not a number above zero.
    """
    keys = tuple(standards) if standards is not None else tuple(k for k in STANDARDS if k != _FREE)
    for key in keys:
        need(key in STANDARDS, f"unknown standard {key!r}; there are {', '.join(STANDARDS)}")
    rows = []
    for time in shock_times_s:
        for key in keys:
            case = case_for_zone(key, zone, time, native_resistivity_ohm_m)
            if options is not None:
                case = replace(
                    options,
                    standard=key,
                    shock_time_s=time,
                    native_resistivity_ohm_m=native_resistivity_ohm_m,
                    surface_resistivity_ohm_m=case.surface_resistivity_ohm_m,
                    surface_thickness_m=case.surface_thickness_m,
                )
            entry = STANDARDS[key]
            rows.append(
                ComparisonRow(
                    key, entry.title, entry.edition, entry.basis, zone.name, time, _limits_or_reason(case)
                )
            )
    return tuple(rows)


def _limits_or_reason(case: LimitCase) -> Limits:
    try:
        return tolerable(case)
    except (OutOfRangeError, NotConvergedError) as error:
        entry = STANDARDS[case.standard]
        return Limits(case.standard, None, None, entry.title, "", "from memory", outside=(str(error),))
