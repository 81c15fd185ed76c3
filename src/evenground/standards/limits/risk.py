"""Risk instead of a limit: how likely a fault meets a person, and how likely the shock then kills.

Faults and contacts are two independent Poisson processes. A shock that makes the heart fibrillate counts as
fatal. Everything that is taken for granted is listed in the result.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from evenground.errors import OutOfRangeError
from evenground.provenance import equation
from evenground.standards._checks import need, need_positive
from evenground.standards.limits._ground import ground
from evenground.standards.limits.body import FIBRILLATION, PATHS, BodyModel, BodyPath
from evenground.standards.limits.derived import body_of
from evenground.standards.limits.shapes import LimitCase, Limits

__all__ = [
    "HIGH_PER_YEAR",
    "LOW_PER_YEAR",
    "Assumption",
    "Exposure",
    "ShockRisk",
    "coincidence_share",
    "fibrillation_probability",
    "risk_band",
    "risk_based_limits",
    "shock_risk",
    "societal_rates",
]

YEAR_S = 31_557_600.0
LOW_PER_YEAR = 1e-6
HIGH_PER_YEAR = 1e-4
_PERCENT = (0.0014, 0.05, 0.5)
_NORMAL = NormalDist()
_QUANTILES = tuple(_NORMAL.inv_cdf(p) for p in _PERCENT)
_PATHS = tuple(
    PATHS[n] for n in ("left hand to both feet", "right hand to both feet", "both hands to both feet")
)
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Exposure:
    """How often and how long. [1/year, s]

    ``contact_rate_per_year`` counts the contacts of one person, the most exposed one. ``people`` are that
    many persons, each exposed so, independently of each other.
    """

    fault_rate_per_year: float
    fault_duration_s: float
    contact_rate_per_year: float
    contact_duration_s: float
    people: int = 1

    def __post_init__(self) -> None:
        need_positive(
            fault_rate_per_year=self.fault_rate_per_year,
            fault_duration_s=self.fault_duration_s,
            contact_rate_per_year=self.contact_rate_per_year,
            contact_duration_s=self.contact_duration_s,
        )
        need(1 <= self.people <= 10_000, f"people must be from 1 to 10000, got {self.people!r}")


@dataclass(frozen=True, slots=True)
class Assumption:
    """Something taken for granted, with where it comes from."""

    text: str
    source: str
    evidence: str


@dataclass(frozen=True, slots=True)
class ShockRisk:
    """Yearly risk of a fatal shock.

    Attributes
    ----------
    touch_v : float
        Prospective voltage judged. [V]
    fibrillation_probability : float
        Given that fault and contact meet; worst of the paths, over all people. [-]
    fibrillation_probability_piecewise : float
        The same with straight lines through the three points instead of one log-normal distribution. [-]
    coincidence_share : float
        Share of faults that meet a contact of the person. [-]
    individual_per_year : float
        Probability in a year for the most exposed person. [1/year]
    individual_band, societal_band : str
        ``"low"``, ``"intermediate"`` or ``"intolerable"``.
    deaths_per_year : float
        Expected among all people. [1/year]
    societal : tuple of (persons, per year)
        How often N or more people die in one fault. [-, 1/year]
    governing_path : str
    assumptions : tuple of Assumption
    """

    touch_v: float
    fibrillation_probability: float
    fibrillation_probability_piecewise: float
    coincidence_share: float
    individual_per_year: float
    individual_band: str
    societal_band: str
    deaths_per_year: float
    societal: tuple[tuple[int, float], ...]
    governing_path: str
    assumptions: tuple[Assumption, ...]


@equation(
    "q",
    "",
    source="two independent Poisson processes of intervals",
    symbols="p t_f t_p",
    text="1 - exp(-p (t_f + t_p)/T) with T one year (31 557 600 s)",
    name="share of faults that meet a contact",
)
def coincidence_share(
    contact_rate_per_year: float, fault_duration_s: float, contact_duration_s: float
) -> float:
    """Probability that at least one contact overlaps a given fault. [-]"""
    need_positive(
        contact_rate_per_year=contact_rate_per_year,
        fault_duration_s=fault_duration_s,
        contact_duration_s=contact_duration_s,
    )
    return -math.expm1(-contact_rate_per_year * (fault_duration_s + contact_duration_s) / YEAR_S)


def _probit(log_current: Array, shock_time_s: float, fit: str) -> Array:
    """Normal quantile of the fibrillation probability at logarithms of the current."""
    x = np.log([FIBRILLATION[key].at(shock_time_s) for key in ("c1", "c2", "c3")])
    z = np.array(_QUANTILES)
    if fit == "lognormal":
        slope, offset = np.polyfit(x, z, 1)
        return np.asarray(offset + slope * log_current, dtype=np.float64)
    slopes = np.diff(z) / np.diff(x)
    side = np.where(log_current < x[1], slopes[0], slopes[1])
    return np.asarray(z[1] + side * (log_current - x[1]), dtype=np.float64)


def _cdf(z: Array) -> Array:
    from scipy.special import ndtr

    return np.asarray(ndtr(z), dtype=np.float64)


@equation(
    "P_fib",
    "",
    source="IEC TS 60479-1, Figure 20: c1, c2 and c3 as 0.14, 5 and 50 %",
    symbols="I_B t fit",
    text="normal distribution in the logarithm of the current; fit 'lognormal': one straight line in probit, "
    "least squares through the three points; 'piecewise': straight lines through them, the ends continued",
    evidence="from memory",
    name="probability of ventricular fibrillation",
)
def fibrillation_probability(body_current_a: float, shock_time_s: float, fit: str = "lognormal") -> float:
    """Probability that a current left hand to feet makes the heart fibrillate. [-]

    Raises
    ------
    OutOfRangeError
        For a duration outside 0.05 to 10 s, where the curves end.
    """
    need_positive(body_current_a=body_current_a, shock_time_s=shock_time_s)
    need(fit in ("lognormal", "piecewise"), f"fit must be 'lognormal' or 'piecewise', got {fit!r}")
    return float(_cdf(_probit(np.array([math.log(body_current_a)]), shock_time_s, fit))[0])


def _path_current(voltage_v: float, path: BodyPath, body: BodyModel, series_ohm: float, z: Array) -> Array:
    """Current through a path for people at normal quantiles ``z``: series circuit, by bisection. [A]"""
    low, high = np.zeros_like(z), np.full_like(z, voltage_v)
    for _ in range(52):
        middle = 0.5 * (low + high)
        current = middle / (path.body_factor * body.at_quantile(middle, z))
        over = middle + series_ohm * current > voltage_v
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    across = 0.5 * (low + high)
    return np.asarray(across / (path.body_factor * body.at_quantile(across, z)), dtype=np.float64)


def _over_people(voltage_v: float, case: LimitCase, path: BodyPath, fit: str) -> float:
    """Fibrillation probability averaged over the body impedances of all people."""
    if voltage_v == 0.0:
        return 0.0
    z = np.linspace(-5.0, 5.0, 201)
    weight = np.exp(-0.5 * z * z)
    factor, rho = ground(case, "empirical")
    series = path.series_resistance_ohm(case.footwear_ohm or 0.0, factor * rho)
    current = _path_current(voltage_v, path, body_of(case), series, z) * path.heart_factor
    share = _cdf(_probit(np.log(current), case.shock_time_s, fit))
    return float(np.sum(share * weight) / np.sum(weight))


def _worst(voltage_v: float, case: LimitCase, fit: str = "lognormal") -> tuple[BodyPath, float]:
    """The path with the highest fibrillation probability, and that probability."""
    rows = [(path, _over_people(voltage_v, case, path, fit)) for path in case.paths or _PATHS]
    return max(rows, key=lambda row: row[1])


def _individual(exposure: Exposure, fatal_share: float) -> float:
    """Probability of death in a year of the one person."""
    meets = coincidence_share(
        exposure.contact_rate_per_year, exposure.fault_duration_s, exposure.contact_duration_s
    )
    return -math.expm1(-exposure.fault_rate_per_year * meets * fatal_share)


def risk_band(per_year: float, scale: float = 1.0) -> str:
    """``"low"``, ``"intermediate"`` or ``"intolerable"``; ``scale`` moves both bounds. [1/year]"""
    if per_year <= LOW_PER_YEAR * scale:
        return "low"
    return "intermediate" if per_year <= HIGH_PER_YEAR * scale else "intolerable"


def societal_rates(fault_rate: float, people: int, share: float) -> tuple[tuple[int, float], ...]:
    """How often N or more of the people die in one fault, while that is above 1e-12 per year."""
    rows: list[tuple[int, float]] = []
    log_odds = [
        math.lgamma(people + 1)
        - math.lgamma(k + 1)
        - math.lgamma(people - k + 1)
        + k * math.log(max(share, 1e-300))
        + (people - k) * math.log1p(-min(share, 1.0 - 1e-16))
        for k in range(1, people + 1)
    ]
    tail = 0.0
    for k in range(people, 0, -1):
        tail += math.exp(log_odds[k - 1])
        rows.append((k, fault_rate * min(tail, 1.0)))
    return tuple(row for row in reversed(rows) if row[1] >= 1e-12)


def shock_risk(
    touch_v: float, exposure: Exposure, case: LimitCase, *, societal_slope: float = 1.0
) -> ShockRisk:
    """Yearly risk that a prospective touch voltage kills.

    Parameters
    ----------
    touch_v : float
        Prospective touch voltage at the place. [V]
    exposure : Exposure
    case : LimitCase
        Ground, shoes, body and paths; its time must be the fault's duration. Percentile, current and
        ``combine`` do not count: all people and the three curves c1, c2, c3 are used, and the worst path.
    societal_slope : float
        The societal lines are 1e-6/N^slope and 1e-4/N^slope per year. [-]

    Raises
    ------
    OutOfRangeError
        For a duration outside 0.05 to 10 s, or when the two durations differ.
    """
    need(math.isfinite(touch_v) and touch_v >= 0.0, f"touch_v must be zero or more, got {touch_v!r}")
    need(societal_slope >= 0.0, f"societal_slope must be zero or more, got {societal_slope!r}")
    need(
        math.isclose(case.shock_time_s, exposure.fault_duration_s, rel_tol=1e-9),
        f"shock time {case.shock_time_s:g} s and fault duration {exposure.fault_duration_s:g} s differ",
    )
    path, fatal = _worst(touch_v, case)
    other = _worst(touch_v, case, "piecewise")[1]
    meets = coincidence_share(
        exposure.contact_rate_per_year, exposure.fault_duration_s, exposure.contact_duration_s
    )
    individual = _individual(exposure, fatal)
    societal = societal_rates(exposure.fault_rate_per_year, exposure.people, meets * fatal)
    order = ("low", "intermediate", "intolerable")
    bands = [risk_band(rate, float(n) ** -societal_slope) for n, rate in societal] or ["low"]
    return ShockRisk(
        touch_v=touch_v,
        fibrillation_probability=fatal,
        fibrillation_probability_piecewise=other,
        coincidence_share=meets,
        individual_per_year=individual,
        individual_band=risk_band(individual),
        societal_band=max(bands, key=order.index),
        deaths_per_year=exposure.fault_rate_per_year * exposure.people * meets * fatal,
        societal=societal,
        governing_path=path.name,
        assumptions=_assumptions(case, societal_slope),
    )


def _assumptions(case: LimitCase, slope: float) -> tuple[Assumption, ...]:
    body = body_of(case)
    shoes = "bare feet" if not case.footwear_ohm else f"shoes of {case.footwear_ohm:g} ohm each"
    memory, iec = "from memory", "IEC TS 60479-1, Figure 20"
    return (
        Assumption(
            "faults and contacts are independent and come at random at constant rates; a storm or an "
            "operation that causes both breaks this",
            "Poisson processes",
            "derived",
        ),
        Assumption(
            "the person bears the whole duration of the fault, however short the overlap",
            "on the safe side",
            "stated",
        ),
        Assumption("fibrillation is fatal; burns and falls are not counted", "common practice", memory),
        Assumption("c1, c2 and c3 are 0.14, 5 and 50 % probability, log-normal in the current", iec, memory),
        Assumption(FIBRILLATION["c1"].note, iec, memory),
        Assumption(FIBRILLATION["c2"].note, iec, memory),
        Assumption(FIBRILLATION["c3"].note, iec, memory),
        Assumption(
            "body impedance is log-normal on each side of its median, continued beyond 5 and 95 %, and does "
            f"not go with the fibrillation threshold; below {body.lowest_v:g} V its first value is kept",
            body.source,
            body.evidence,
        ),
        Assumption(
            f"{shoes}; the path with the highest probability is taken", "stated in the case", "stated"
        ),
        Assumption(
            "up to 1e-6 a year for one person is low, above 1e-4 intolerable, between them the risk is to be "
            "reduced as far as practicable",
            "Australian power system earthing guide EG-0 (the three bands found)",
            memory,
        ),
        Assumption(
            f"the societal lines are 1e-6/N^{slope:g} and 1e-4/N^{slope:g} a year for N or more deaths in "
            "one fault; people are exposed independently, groups that touch together are not covered",
            "chosen here",
            "stated",
        ),
    )


def risk_based_limits(case: LimitCase, exposure: Exposure, target_per_year: float = LOW_PER_YEAR) -> Limits:
    """Touch voltage at which the risk of the most exposed person reaches a target.

    When even certain death on contact stays below the target there is no such voltage: ``touch_v`` is None
    and a note says so.
    """
    need_positive(target_per_year=target_per_year)
    source = "probability of fibrillation and coincidence, IEC TS 60479-1 and Poisson processes"
    empty = Limits("risk", None, None, source, "", "from memory")
    try:
        top = shock_risk(1e6, exposure, case)
    except OutOfRangeError as error:
        return replace(empty, outside=(str(error),))
    notes = tuple(a.text for a in top.assumptions)
    if top.individual_per_year <= target_per_year:
        free = f"fault and contact meet too rarely for any voltage to reach {target_per_year:g} per year"
        return replace(empty, notes=(free, *notes))
    low, high = 1.0, 1e6
    if _individual(exposure, _worst(low, case)[1]) > target_per_year:
        return replace(empty, outside=("even 1 V is above the target: check the exposure",))
    while high / low > 1.0 + 1e-5:
        middle = math.sqrt(low * high)
        if _individual(exposure, _worst(middle, case)[1]) > target_per_year:
            high = middle
        else:
            low = middle
    return replace(empty, touch_v=low, notes=notes)
