"""The human body after IEC TS 60479-1: impedance, current paths, currents that make the heart fibrillate.

Voltages and currents are rms at 50 or 60 Hz; skin dry, contact areas large.
"""

from __future__ import annotations

import bisect
import functools
import itertools
import math
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from evenground.errors import NotConvergedError, OutOfRangeError
from evenground.provenance import equation
from evenground.standards import en50522
from evenground.standards._checks import need, need_positive
from evenground.standards.limits.curves import TimeCurve

__all__ = [
    "BODIES",
    "EN_PATHS",
    "FIBRILLATION",
    "HEART_CURRENT_FACTOR",
    "PATHS",
    "BodyModel",
    "BodyPath",
    "body_voltage",
    "constant_body",
    "dalziel_curve",
]

_NORMAL = NormalDist()
_Z95 = _NORMAL.inv_cdf(0.95)


@functools.lru_cache(maxsize=64)
def _quantile(percentile: float) -> float:
    return _NORMAL.inv_cdf(percentile / 100.0)


@dataclass(frozen=True, slots=True)
class BodyModel:
    """Impedance of the body against touch voltage and share of people.

    Attributes
    ----------
    key, title : str
    rows : tuple of (voltage, Z5, Z50, Z95)
        Impedance hand to hand that 5, 50 and 95 % of people do not exceed. [V, ohm, ohm, ohm]
    beyond : tuple of three floats
        The same for every higher voltage. [ohm]
    source, evidence : str

    Notes
    -----
    Between rows the impedance is linear in voltage. Between the percentages its logarithm is linear in the
    quantile of the normal distribution, that is: people are log-normal, with a different spread below
    and above the median.
    """

    key: str
    title: str
    rows: tuple[tuple[float, float, float, float], ...]
    beyond: tuple[float, float, float]
    source: str
    evidence: str

    def __post_init__(self) -> None:
        need(len(self.rows) >= 1, f"body model {self.key!r} has no rows")
        for row in (*self.rows, (self.rows[-1][0], *self.beyond)):
            voltage, low, middle, high = row
            need_positive(voltage_v=voltage, low_ohm=low, middle_ohm=middle, high_ohm=high)
            need(low <= middle <= high, f"body model {self.key!r}: percentages out of order at {voltage:g} V")
        for before, after in itertools.pairwise(self.rows):
            need(after[0] > before[0], f"body model {self.key!r}: voltages out of order")
            falls = all(b <= a for a, b in zip(before[1:], after[1:], strict=True))
            need(falls, f"body model {self.key!r}: the impedance must not rise with voltage")

    def __str__(self) -> str:
        return self.title

    @property
    def lowest_v(self) -> float:
        """First voltage of the table. [V]"""
        return self.rows[0][0]

    def impedance(self, voltage_v: float, percentile: float = 50.0) -> float:
        """Hand-to-hand impedance that ``percentile`` per cent of people do not exceed. [ohm]

        Raises
        ------
        OutOfRangeError
            Below the first voltage of the table, or for a percentile outside 5 to 95.
        """
        need_positive(voltage_v=voltage_v)
        need(5.0 <= percentile <= 95.0, f"body percentile must be from 5 to 95, got {percentile!r}")
        need(
            voltage_v >= self.lowest_v,
            f"body impedance starts at {self.lowest_v:g} V, not at {voltage_v:g} V",
        )
        low, middle, high = self._at(voltage_v)
        quantile = _quantile(percentile)
        spread = (math.log(middle / low) if quantile < 0.0 else math.log(high / middle)) / _Z95
        return middle * math.exp(spread * quantile)

    def _at(self, voltage_v: float) -> tuple[float, float, float]:
        """The three columns at one voltage inside or above the table."""
        if voltage_v > self.rows[-1][0]:
            return self.beyond
        index = bisect.bisect_left(self.rows, (voltage_v,))
        after = self.rows[min(index, len(self.rows) - 1)]
        if after[0] == voltage_v or index == 0:
            return after[1:]
        before = self.rows[index - 1]
        share = (voltage_v - before[0]) / (after[0] - before[0])
        low, middle, high = (b + share * (a - b) for b, a in zip(before[1:], after[1:], strict=True))
        return low, middle, high

    def at_quantile(
        self, voltage_v: NDArray[np.float64], quantile: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Impedance (n,) at voltages (n,) for standard normal quantiles (n,); below the table its first row.

        The spread is continued beyond 5 and 95 %. [V, - -> ohm]
        """
        table = np.array(self.rows, dtype=np.float64)
        columns = [np.interp(voltage_v, table[:, 0], table[:, i]) for i in (1, 2, 3)]
        above = voltage_v > table[-1, 0]
        low, middle, high = (np.where(above, b, c) for b, c in zip(self.beyond, columns, strict=True))
        spread = np.where(quantile < 0.0, np.log(middle / low), np.log(high / middle)) / _Z95
        return np.asarray(middle * np.exp(spread * quantile), dtype=np.float64)


_IEC_2005 = (
    (25.0, 1750.0, 3250.0, 6100.0),
    (50.0, 1375.0, 2500.0, 4600.0),
    (75.0, 1125.0, 2000.0, 3600.0),
    (100.0, 990.0, 1725.0, 3125.0),
    (125.0, 900.0, 1550.0, 2675.0),
    (150.0, 850.0, 1400.0, 2350.0),
    (175.0, 825.0, 1325.0, 2175.0),
    (200.0, 800.0, 1275.0, 2050.0),
    (225.0, 775.0, 1225.0, 1900.0),
    (400.0, 700.0, 950.0, 1275.0),
    (500.0, 625.0, 850.0, 1150.0),
    (700.0, 575.0, 775.0, 1050.0),
    (1000.0, 575.0, 775.0, 1050.0),
)
_IEC_1994 = (
    (25.0, 1750.0, 3250.0, 6100.0),
    (50.0, 1450.0, 2625.0, 4375.0),
    (75.0, 1250.0, 2200.0, 3500.0),
    (100.0, 1200.0, 1875.0, 3200.0),
    (125.0, 1125.0, 1625.0, 2875.0),
    (220.0, 1000.0, 1350.0, 2125.0),
    (700.0, 750.0, 1100.0, 1550.0),
    (1000.0, 700.0, 1050.0, 1500.0),
)
BODIES: dict[str, BodyModel] = {
    "iec_2005": BodyModel(
        "iec_2005",
        "IEC TS 60479-1:2005 and 2016",
        _IEC_2005,
        (575.0, 775.0, 1050.0),
        "IEC TS 60479-1:2005, Table 1 (the 50 % column reproduces U_Tp of EN 50522)",
        "from memory",
    ),
    "iec_1994": BodyModel(
        "iec_1994",
        "IEC 479-1:1984 and 1994",
        _IEC_1994,
        (650.0, 750.0, 850.0),
        "IEC 479-1:1994, Table 1; the asymptote counts above 1000 V",
        "found",
    ),
}
"""Body impedance by edition."""


def constant_body(resistance_ohm: float, title: str = "") -> BodyModel:
    """A body of one resistance for everybody at any voltage, such as the 1000 ohm of IEEE Std 80. [ohm]"""
    need_positive(resistance_ohm=resistance_ohm)
    r = resistance_ohm
    return BodyModel(
        f"constant_{r:g}",
        title or f"constant {r:g} ohm",
        ((1e-6, r, r, r),),
        (r, r, r),
        "stated by the user",
        "stated",
    )


HEART_CURRENT_FACTOR: dict[str, float] = {
    "left hand to feet": 1.0,
    "both hands to both feet": 1.0,
    "hand to hand": 0.4,
    "right hand to feet": 0.8,
    "back to right hand": 0.3,
    "back to left hand": 0.7,
    "chest to right hand": 1.3,
    "chest to left hand": 1.5,
    "seat to hand": 0.7,
    "foot to foot": 0.04,
}
"""IEC TS 60479-1, Table 12 (from memory): current left hand to feet over the current of equal danger. [-]"""


@dataclass(frozen=True, slots=True)
class BodyPath:
    """A way through the body.

    Attributes
    ----------
    name : str
    heart_factor : float
        Heart-current factor. [-]
    body_factor : float
        Impedance of this path over that from hand to hand. [-]
    feet : str
        What stands in series: ``"both"`` (two feet side by side), ``"one"``, ``"apart"`` (in at one
        foot, out at the other), ``"none"``.
    voltage_factor : float
        Factor on the voltage in the mean over paths of EN 50522. [-]
    """

    name: str
    heart_factor: float
    body_factor: float
    feet: str = "both"
    voltage_factor: float = 1.0

    def __post_init__(self) -> None:
        need_positive(
            heart_factor=self.heart_factor, body_factor=self.body_factor, voltage_factor=self.voltage_factor
        )
        need(self.feet in ("both", "one", "apart", "none"), f"path {self.name!r}: unknown feet {self.feet!r}")

    def __str__(self) -> str:
        return self.name

    def series_resistance_ohm(self, shoe_ohm: float, foot_resistivity_ohm_m: float) -> float:
        """Resistance of shoes and standing surface outside the body. [ohm]

        ``shoe_ohm`` is per shoe; ``foot_resistivity_ohm_m`` that of the standing surface times its layer
        factor. A foot is taken as a disc of 0.08 m radius, rounded to 3 ohm per ohm m.
        """
        foot = shoe_ohm + 3.0 * foot_resistivity_ohm_m
        return {"both": foot / 2.0, "one": foot, "apart": 2.0 * foot, "none": 0.0}[self.feet]


EN_PATHS: tuple[BodyPath, ...] = tuple(
    BodyPath(
        p.name,
        p.heart_factor,
        p.body_factor,
        "none" if p.name == "hand to hand" else "both",
        p.voltage_factor,
    )
    for p in en50522.TOUCH_PATHS
)
"""The four paths that EN 50522 averages (from memory, confirmed through U_Tp)."""
PATHS: dict[str, BodyPath] = {p.name: replace(p, voltage_factor=1.0) for p in EN_PATHS} | {
    "foot to foot": BodyPath("foot to foot", 0.04, 1.0, "apart"),
    "seat to both hands": BodyPath("seat to both hands", 0.7, 0.5, "none"),
}
"""Paths by name. The body factors of the last two are from memory and coarse."""


def _fibrillation(key: str, title: str, points: tuple[tuple[float, float], ...], note: str) -> TimeCurve:
    return TimeCurve(
        key, title, points, "IEC TS 60479-1, Figure 20, left hand to feet", "from memory", unit="A", note=note
    )


_C2 = en50522.FIBRILLATION_CURRENT_A
FIBRILLATION: dict[str, TimeCurve] = {
    "c1": _fibrillation(
        "c1",
        "curve c1",
        ((0.01, 0.5), (0.1, 0.5), (1.0, 0.05), (3.0, 0.04), (10.0, 0.04)),
        "four points read from the figure, low precision; taken as 0.14 % probability",
    ),
    "c2": _fibrillation(
        "c2",
        "curve c2",
        _C2,
        "5 % probability; 0.1 and 0.2 s are doubtful: the printed U_Tp would need 0.810 and 0.639 A",
    ),
    "c2_back_calculated": _fibrillation(
        "c2_back_calculated",
        "curve c2, back-calculated at 0.1 and 0.2 s",
        tuple((t, {0.1: 0.810, 0.2: 0.639}.get(t, i)) for t, i in _C2),
        "5 % probability; currents at 0.1 and 0.2 s calculated back from the printed U_Tp",
    ),
    "c3": _fibrillation(
        "c3",
        "curve c3",
        tuple((t, 1.6 * i) for t, i in _C2),
        "50 % probability; taken as 1.6 times c2 at every time, the ratio of the remembered ends (80 and "
        "50 mA at long times), low precision",
    ),
}
"""Body current by duration. [s, A]"""


def dalziel_curve(body_constant_as: float) -> TimeCurve:
    """Body current k/sqrt(t), 0.03 to 3 s, as a curve: straight on double logarithmic paper, so exact. [A]"""
    need_positive(body_constant_as=body_constant_as)
    return TimeCurve(
        f"dalziel_{body_constant_as:g}",
        f"body current {body_constant_as:g}/sqrt(t)",
        tuple((t, body_constant_as / math.sqrt(t)) for t in (0.03, 3.0)),
        "IEEE Std 80-2013, Eq. (8), (9)",
        "from memory, cross-checked",
        unit="A",
    )


@equation(
    "U_B",
    "V",
    source="IEC TS 60479-1, body impedance, current paths and heart-current factors",
    symbols="I_B path body p",
    text="solution of U = (I_B/HF) BF Z_T(U) with heart-current factor HF, body factor BF and the "
    "hand-to-hand impedance Z_T that p per cent of people do not exceed at the voltage U",
    evidence="from memory, cross-checked",
    name="voltage across the body",
)
def body_voltage(body_current_a: float, path: BodyPath, body: BodyModel, percentile: float = 50.0) -> float:
    """Voltage that drives a current of this danger through one path. [V]

    ``body_current_a`` is the current left hand to feet of equal danger.

    Raises
    ------
    OutOfRangeError
        When the solution lies below the first voltage of the impedance table.
    NotConvergedError
        Should the bisection not close.
    """
    need_positive(body_current_a=body_current_a)
    need(5.0 <= percentile <= 95.0, f"body percentile must be from 5 to 95, got {percentile!r}")
    scale = body_current_a / path.heart_factor * path.body_factor
    low, high = body.lowest_v, 1e6
    if low > scale * body.impedance(low, percentile):
        raise OutOfRangeError(
            f"{path.name}: {body_current_a:g} A needs less than {low:g} V, where the table starts"
        )
    need(high > scale * body.impedance(high, percentile), f"a body current of {body_current_a:g} A is absurd")
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle > scale * body.impedance(middle, percentile):
            high = middle
        else:
            low = middle
        if high - low <= 1e-13 * high:
            return 0.5 * (low + high)
    raise NotConvergedError(f"body voltage for {body_current_a:g} A: bracket {low} to {high} V")
