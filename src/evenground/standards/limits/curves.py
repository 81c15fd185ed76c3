"""Limits as functions of time: points as printed, and how to read between them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass

from evenground.errors import OutOfRangeError
from evenground.provenance import equation
from evenground.standards import en50522
from evenground.standards._checks import need, need_positive

__all__ = ["BRITISH_FOOTING", "CURVES", "TimeCurve", "lookup"]

_BETWEEN = ("log-log", "next longer")


@dataclass(frozen=True, slots=True)
class TimeCurve:
    """A limit against time.

    Attributes
    ----------
    key, title : str
    points : tuple of (time, limit)
        In order of time; the limit never rises. [s, unit]
    source, evidence : str
    between : str
        ``"log-log"``: straight between points on double logarithmic paper. ``"next longer"``: the limit of
        the next longer printed time, which is never too high.
    after : float or None
        Limit for every longer time; None: no value there. [unit]
    unit : str
    note : str

    Raises
    ------
    OutOfRangeError
        At birth, for points that are out of order, not positive, or rising.
    """

    key: str
    title: str
    points: tuple[tuple[float, float], ...]
    source: str
    evidence: str
    between: str = "log-log"
    after: float | None = None
    unit: str = "V"
    note: str = ""

    def __post_init__(self) -> None:
        need(len(self.points) >= 2, f"curve {self.key!r} needs two points or more")
        need(self.between in _BETWEEN, f"curve {self.key!r}: between must be one of {_BETWEEN}")
        for time, limit in self.points:
            need_positive(time_s=time, limit=limit)
        for (t0, v0), (t1, v1) in itertools.pairwise(self.points):
            need(t1 > t0 and v1 <= v0, f"curve {self.key!r} must fall with time, see {t1!r} s")
        if self.after is not None:
            need(0.0 < self.after <= self.points[-1][1], f"curve {self.key!r} rises after its last point")

    def __str__(self) -> str:
        return self.title

    @property
    def shortest_s(self) -> float:
        """First time for which there is a value. [s]"""
        return self.points[0][0]

    @property
    def longest_s(self) -> float:
        """Last time for which there is a value; infinite with a long-duration value. [s]"""
        return math.inf if self.after is not None else self.points[-1][0]

    def covers(self, time_s: float) -> bool:
        """Whether there is a value for this time."""
        return self.shortest_s <= time_s <= self.longest_s

    def at(self, time_s: float) -> float:
        """The limit for a duration. [unit]

        Raises
        ------
        OutOfRangeError
            For a time that the curve does not cover: nothing is extrapolated.
        """
        need_positive(time_s=time_s)
        if not self.covers(time_s):
            raise OutOfRangeError(
                f"{self.title} covers {self.shortest_s:g} to {self.longest_s:g} s, not {time_s:g} s"
            )
        if time_s > self.points[-1][0] and self.after is not None:
            return self.after
        for (t0, v0), (t1, v1) in itertools.pairwise(self.points):
            if time_s == t0:
                return v0
            if time_s < t1:
                if self.between == "next longer":
                    return v1
                share = math.log(time_s / t0) / math.log(t1 / t0)
                return v0 * math.exp(share * math.log(v1 / v0))
        return self.points[-1][1]


_DROPS = "read at the next longer printed time; the way to read between points is not known"
_RAIL_CLAUSE = "EN 50122-1, Table 4"

_ALL = (
    TimeCurve(
        "en50522_2010",
        "U_Tp of EN 50522:2010",
        en50522.PERMISSIBLE_TOUCH_VOLTAGE_2010,
        "EN 50522:2010, Table B.3 (curve; no additional resistance)",
        "found",
        after=80.0,
        note="80 V for durations well above 10 s is from memory; it is taken for all times above 10 s",
    ),
    TimeCurve(
        "en50522_2022",
        "U_Tp of EN 50522:2022",
        en50522.PERMISSIBLE_TOUCH_VOLTAGE_2022,
        "EN 50522:2022, Table B.4 (curve; no additional resistance)",
        "found",
    ),
    TimeCurve(
        "hd637_s1",
        "U_Tp of HD 637 S1",
        (
            (0.04, 800.0),
            (0.08, 700.0),
            (0.14, 600.0),
            (0.20, 500.0),
            (0.29, 400.0),
            (0.39, 300.0),
            (0.49, 220.0),
            (0.64, 150.0),
            (0.72, 125.0),
            (1.10, 100.0),
            (10.0, 75.0),
        ),
        "HD 637 S1 (CEI 11-1:1999), permissible touch voltage",
        "from memory",
        after=75.0,
        note="75 V is printed for more than 10 s and taken from 10 s on; superseded by EN 50522",
    ),
    TimeCurve(
        "itc_rat_13",
        "U_ca of ITC-RAT 13",
        (
            (0.05, 735.0),
            (0.10, 633.0),
            (0.20, 528.0),
            (0.30, 420.0),
            (0.40, 310.0),
            (0.50, 204.0),
            (1.00, 107.0),
            (2.00, 90.0),
            (5.00, 81.0),
            (10.0, 80.0),
        ),
        "Spain, RD 337/2014, ITC-RAT 13, Table 1 (applied touch voltage)",
        "from memory",
        after=50.0,
    ),
    TimeCurve(
        "en50122_short",
        "EN 50122-1, short time (below 0.7 s)",
        (
            (0.02, 865.0),
            (0.05, 835.0),
            (0.10, 785.0),
            (0.20, 645.0),
            (0.30, 480.0),
            (0.40, 295.0),
            (0.50, 220.0),
            (0.60, 180.0),
            (0.70, 155.0),
        ),
        _RAIL_CLAUSE,
        "from memory",
        between="next longer",
        note=_DROPS,
    ),
    TimeCurve(
        "en50122_long",
        "EN 50122-1, from 0.7 s",
        ((0.70, 90.0), (0.80, 85.0), (0.90, 80.0), (1.00, 75.0), (300.0, 65.0)),
        _RAIL_CLAUSE,
        "from memory",
        between="next longer",
        after=60.0,
        note=_DROPS,
    ),
    TimeCurve(
        "france_1988_dry",
        "French decree of 1988, dry",
        (
            (0.01, 500.0),
            (0.02, 350.0),
            (0.03, 280.0),
            (0.05, 220.0),
            (0.10, 150.0),
            (0.20, 110.0),
            (0.50, 90.0),
            (1.00, 75.0),
            (5.00, 50.0),
        ),
        "France, arrêté of 15 December 1988, article 2 (low voltage, dry)",
        "found",
        between="next longer",
        after=50.0,
        note=_DROPS + "; 50 V is taken for all times above 5 s",
    ),
    TimeCurve(
        "france_1991",
        "French decree of 1991",
        (
            (0.04, 500.0),
            (0.08, 350.0),
            (0.12, 280.0),
            (0.17, 220.0),
            (0.27, 150.0),
            (0.34, 120.0),
            (0.45, 90.0),
            (0.60, 75.0),
            (5.00, 50.0),
        ),
        "France, arrêté of 25 October 1991 (low voltage, alternating current)",
        "found",
        between="next longer",
        after=50.0,
        note=_DROPS + "; 50 V is taken for all times above 5 s",
    ),
)
CURVES: dict[str, TimeCurve] = {curve.key: curve for curve in _ALL}
"""Printed limits of voltage by key."""


def _british(key: str, title: str, voltages: tuple[float, ...]) -> TimeCurve:
    times = (0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
    return TimeCurve(
        key,
        title,
        tuple(zip(times, voltages, strict=True)),
        "national annex to BS EN 50522 and ENA TS 41-24, permissible touch voltage",
        "from memory",
        between="next longer",
        note="the three columns of the table agree among each other (each is the first plus a resistance "
        "times one common current), which says nothing about the first; " + _DROPS,
    )


BRITISH_FOOTING: dict[str, TimeCurve] = {
    "soil": _british(
        "british_soil", "shoes on soil or outdoor concrete", (1570, 1179, 837, 578, 420, 332, 281, 250, 233)
    ),
    "chippings_75mm": _british(
        "british_75mm", "shoes on 75 mm chippings", (1773, 1331, 944, 650, 471, 371, 314, 279, 259)
    ),
    "chippings_150mm": _british(
        "british_150mm",
        "shoes on 150 mm chippings or dry concrete",
        (2064, 1548, 1095, 753, 544, 428, 361, 321, 298),
    ),
}
"""Touch voltage by what people stand on."""


def _declared(curve: TimeCurve) -> Callable[[float], float]:
    def read(time_s: float) -> float:
        return curve.at(time_s)

    read.__name__ = read.__qualname__ = f"read_{curve.key}"
    read.__doc__ = f"{curve.title}, read from its points ({curve.between}). [{curve.unit}]"
    points = "; ".join(f"{t:g} s: {v:g}" for t, v in curve.points)
    after = "" if curve.after is None else f"; longer: {curve.after:g}"
    valid = [f"{curve.shortest_s:g} <= t"]
    if curve.after is None:
        valid.append(f"t <= {curve.points[-1][0]:g}")
    return equation(
        "U_T",
        curve.unit,
        source=curve.source,
        symbols="t",
        text=f"points {points}{after}; between points: {curve.between}",
        valid=valid,
        evidence=curve.evidence,
        name=curve.title,
    )(read)


_READERS = {curve.key: _declared(curve) for curve in (*_ALL, *BRITISH_FOOTING.values())}


def lookup(curve: TimeCurve, time_s: float) -> float:
    """The limit for a duration, noted on the calculation sheet when the curve is one of this file. [unit]

    Raises
    ------
    OutOfRangeError
        For a time that the curve does not cover.
    """
    reader = _READERS.get(curve.key)
    return reader(time_s) if reader is not None else curve.at(time_s)
