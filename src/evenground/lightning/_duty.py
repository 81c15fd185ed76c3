"""What the earthing must bear in one transient: insulation between places, heating, field in the soil."""

from __future__ import annotations

from collections.abc import Mapping

from evenground.model.lightning import ImpulseResult
from evenground.model.study import Check, Verdict
from evenground.standards.iec62305 import METALS, adiabatic_temperature_rise

__all__ = ["check_duty"]

_CRITICAL_V_PER_M = 300e3


def check_duty(
    result: ImpulseResult,
    *,
    withstand_v: Mapping[str, float] | None = None,
    down_conductor_mm2: float | None = None,
    metal: str = "copper",
    current_share: float = 1.0,
    tolerable_rise_k: float = 250.0,
    name: str = "transient",
) -> tuple[Check, ...]:
    """Checks of one computed transient: a stroke, a switching surge, or a fault inside the station.

    Parameters
    ----------
    result : ImpulseResult
        Of :func:`impulse_response` with the current shape of the transient.
    withstand_v : mapping
        Watched place -> impulse voltage that the insulation between it and the place of injection bears. [V]
    down_conductor_mm2, metal, current_share : float, str, float
        Section and metal of the conductor that carries this share of the current. [mm2]
    tolerable_rise_k : float
        Of its temperature; common practice for bare metal away from what can burn. [K]

    Raises
    ------
    KeyError
        When a withstand voltage is given for a place that was not watched, or the metal is unknown.
    """
    checks = [_insulation(result, place, limit, name) for place, limit in (withstand_v or {}).items()]
    if down_conductor_mm2 is not None:
        constants = METALS[metal]
        rise = adiabatic_temperature_rise(
            result.action_a2s * current_share**2, down_conductor_mm2, *constants
        )
        checks.append(
            Check(
                identity=f"duty-heating-{name}",
                title=f"Temperature rise of a {down_conductor_mm2:g} mm2 {metal} conductor",
                verdict=Verdict.PASS if rise <= tolerable_rise_k else Verdict.FAIL,
                value=rise,
                limit=tolerable_rise_k,
                unit="K",
                clause="IEC 62305-1:2010, D.4.1.1 (from memory, cross-checked)",
                method="adiabatic heating by the energy of the window computed",
            )
        )
    field = result.peak_gradient_v_per_m
    checks.append(
        Check(
            identity=f"duty-field-{name}",
            title="Field in the soil at the metal, without ionisation",
            verdict=Verdict.PASS if field <= _CRITICAL_V_PER_M else Verdict.NOT_DECIDED,
            value=field,
            limit=_CRITICAL_V_PER_M,
            unit="V/m",
            clause="Mousa, IEEE Trans. Power Delivery 9 (1994): 300 kV/m",
            method="hybrid circuit and field solution",
            governing=False,
            reason="" if field <= _CRITICAL_V_PER_M else "the soil ionises: voltages are on the high side",
        )
    )
    return tuple(checks)


def _insulation(result: ImpulseResult, place: str, limit: float, name: str) -> Check:
    value = result.watch_difference_v[place]
    return Check(
        identity=f"duty-insulation-{name}-{place}",
        title=f"Voltage between the place of injection and {place}",
        verdict=Verdict.PASS if value <= limit else Verdict.FAIL,
        value=value,
        limit=limit,
        unit="V",
        method="hybrid circuit and field solution",
        reason="uniform soil; no coupling along the cable counted",
    )
