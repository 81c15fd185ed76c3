"""EN 50522: from the potential rise to what has to be shown, and when step matters."""

from __future__ import annotations

from dataclasses import dataclass

from evenground.model.study import Verdict
from evenground.provenance import equation
from evenground.standards._checks import need_positive

__all__ = ["DesignFlow", "design_flow", "step_threshold"]

_CLAUSE = "EN 50522, design of earthing systems (flow with 2 U_Tp and 4 U_Tp)"


@equation(
    "U_E",
    "V",
    source="EN 50522:2022, step voltage",
    symbols="U_Tp",
    form="20*U_Tp",
    evidence="found",
    name="potential rise above which step has to be looked at",
)
def step_threshold(permissible_touch_voltage_v: float) -> float:
    """Potential rise up to which the edition of 2022 asks for no look at step voltage. [V]"""
    need_positive(permissible_touch_voltage_v=permissible_touch_voltage_v)
    return 20.0 * permissible_touch_voltage_v


@dataclass(frozen=True, slots=True)
class DesignFlow:
    """Where a design stands.

    Attributes
    ----------
    route : str
        ``"global system"``, ``"rise"`` (U_E up to 2 U_Tp), ``"measures"`` (up to 4 U_Tp) or
        ``"touch voltage"``.
    verdict : Verdict
    rise_v, simple_limit_v, measures_limit_v : float
        U_E, 2 U_Tp and 4 U_Tp. [V]
    step_needed : bool
        Whether the edition of 2022 asks for a look at step voltage.
    reason, clause, evidence : str
    """

    route: str
    verdict: Verdict
    rise_v: float
    simple_limit_v: float
    measures_limit_v: float
    step_needed: bool
    reason: str
    clause: str = _CLAUSE
    evidence: str = "found"


def design_flow(
    rise_v: float,
    permissible_touch_voltage_v: float,
    *,
    measures_in_place: bool | None = None,
    touch_v: float | None = None,
    touch_limit_v: float | None = None,
    global_system: bool = False,
) -> DesignFlow:
    """Follow the design flow of EN 50522.

    Parameters
    ----------
    rise_v : float
        Earth potential rise U_E. [V]
    permissible_touch_voltage_v : float
        U_Tp for the fault duration, without additional resistances. [V]
    measures_in_place : bool or None
        Whether the recognised measures M of the standard are all in the design; None: nobody said.
    touch_v : float or None
        Worst touch voltage found by calculation or measurement. [V]
    touch_limit_v : float or None
        What it is compared with; None: U_Tp. With shoes or cover: the prospective limit U_vTp. [V]
    global_system : bool
        The site is part of a global earthing system.

    Raises
    ------
    OutOfRangeError
        When a voltage is not a finite number above zero.
    """
    need_positive(rise_v=rise_v)
    threshold = step_threshold(permissible_touch_voltage_v)
    simple, measures = 2.0 * permissible_touch_voltage_v, 4.0 * permissible_touch_voltage_v

    limit = touch_limit_v if touch_limit_v is not None else permissible_touch_voltage_v
    if touch_v is not None:
        need_positive(touch_v=touch_v, touch_limit_v=limit)
    high = touch_v is not None and touch_v > limit

    def result(route: str, verdict: Verdict, reason: str) -> DesignFlow:
        if high and verdict is Verdict.PASS:
            reason += (
                f"; the touch voltage {touch_v:.0f} V is above {limit:.0f} V, this route does not ask for it"
            )
        return DesignFlow(route, verdict, rise_v, simple, measures, rise_v > threshold, reason)

    if global_system:
        return result(
            "global system", Verdict.PASS, "part of a global earthing system, as stated by the designer"
        )
    if rise_v <= simple:
        return result("rise", Verdict.PASS, f"U_E = {rise_v:.0f} V is not above 2 U_Tp = {simple:.0f} V")
    if rise_v <= measures and measures_in_place:
        reason = f"U_E = {rise_v:.0f} V is not above 4 U_Tp = {measures:.0f} V; measures M are in the design"
        return result("measures", Verdict.PASS, reason)
    if touch_v is not None:
        reason = (
            f"touch voltage {touch_v:.0f} V is {'above' if high else 'not above'} its limit {limit:.0f} V"
        )
        return result("touch voltage", Verdict.FAIL if high else Verdict.PASS, reason)
    if rise_v <= measures:
        reason = f"U_E = {rise_v:.0f} V lies between 2 and 4 U_Tp: confirm the measures M or prove U_T"
        return result("measures", Verdict.NOT_DECIDED, reason)
    reason = f"U_E = {rise_v:.0f} V is above 4 U_Tp = {measures:.0f} V: the touch voltage has to be proved"
    return result("touch voltage", Verdict.NOT_DECIDED, reason)
