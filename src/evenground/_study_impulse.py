"""Impulses at masts: soils that stand for layers, and the voltage of the mast above its foot."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from evenground._study_lightning import at_depth, on_metal, piece_around
from evenground.field import solve
from evenground.model.lightning import FrequencySoil, ImpulseRequest, MastTop, OscillationWave
from evenground.model.lightning_site import MastFoot
from evenground.model.soil import LayeredSoil
from evenground.standards.impulse import mast_inductance, mast_surge_impedance

if TYPE_CHECKING:
    from evenground.model.electrode import Electrode
    from evenground.model.lightning import ImpulseResult, LightningResult
    from evenground.model.lightning_site import LightningSite
    from evenground.model.study import Check

__all__ = ["mast_tops", "soils_of_piece", "transient_checks"]

SAME = 0.05
"""Resistivities that differ by less count as one."""
FRONT_OVER_TRAVEL = 4.0
"""Front over time of travel above which a mast counts as an inductance; common practice."""
LIGHT_M_PER_US = 300.0
ON_METAL_M = 0.5
"""A transient or a place this near to metal in plan is on it. [m]"""


def soils_of_piece(piece: Electrode, soil: LayeredSoil, own_ohm_m: float) -> tuple[tuple[str, float], ...]:
    """Uniform soils for the impulse of a piece of metal in layers: words and resistivity. [ohm m]

    Fast parts of a current stay near the metal and see the layer that holds it; slow ones see all layers,
    as soil in which the piece has the same resistance. Both are given; with nearly equal ones only the first.
    """
    if len(soil.resistivities_ohm_m) == 1:
        return (("", own_ohm_m),)
    layered = solve(piece, soil).resistance_ohm
    alone = solve(piece, LayeredSoil((own_ohm_m,), ())).resistance_ohm
    equal = own_ohm_m * layered / alone
    if abs(equal / own_ohm_m - 1.0) < SAME:
        return (("", own_ohm_m),)
    return (", layer of the metal", own_ohm_m), (", soil of equal resistance", equal)


def transient_checks(site: LightningSite, metal: Electrode, soil: LayeredSoil) -> tuple[Check, ...]:
    """What every stated transient asks of the earthing, in the soils that stand for the layers.

    Raises
    ------
    InputError
        When a transient enters away from the metal or a place to be watched is cut off from it.
    """
    from evenground.lightning import check_duty, impulse_response

    rows: list[Check] = []
    for item in site.transients:
        place = on_metal(item.at_m, metal)
        piece = piece_around(metal, MastFoot(item.name, item.at_m), place, item.reach_m)
        wave = OscillationWave(item.name, item.amplitude_a, item.frequency_hz, item.decay_s)
        watch = tuple((name, on_metal(at, piece)) for name, at, _ in item.watched)
        limits = {name: limit for name, _, limit in item.watched}
        for words, resistivity in soils_of_piece(piece, soil, at_depth(soil, place[2])):
            request = ImpulseRequest(
                piece, place, FrequencySoil(resistivity), wave, watch_m=watch, snap_m=ON_METAL_M
            )
            answer = impulse_response(request)
            found = check_duty(
                answer,
                withstand_v=limits,
                down_conductor_mm2=item.down_conductor_mm2,
                name=f"{item.name}{words}",
            )
            rows += [replace(c, title=f"{item.name}{words}: {c.title}") for c in found]
    return tuple(rows)


def mast_tops(site: LightningSite, result: LightningResult) -> tuple[MastTop, ...]:
    """Voltage of the top of every mast whose radius is stated, one for each impulse at its foot."""
    rows = []
    for name, impulse in zip(result.impulse_names, result.impulses, strict=True):
        foot = next((f for f in site.feet if name.startswith(f"mast {f.name}, ")), None)
        if foot is not None and foot.radius_m is not None and foot.height_m >= 10 * foot.radius_m:
            rows.append(_top(name, foot, foot.radius_m, impulse))
    return tuple(rows)


def _top(name: str, foot: MastFoot, radius_m: float, impulse: ImpulseResult) -> MastTop:
    """Foot and mast in series: the mast as an inductance that carries the whole current."""
    surge = mast_surge_impedance(foot.height_m, radius_m)
    inductance = mast_inductance(surge, foot.height_m)
    foot_v, travel = impulse.peak_voltage_v, foot.height_m / LIGHT_M_PER_US
    if impulse.front_time_us < FRONT_OVER_TRAVEL * travel:
        reason = f"front of {impulse.front_time_us:.2g} us against {travel:.2g} us of travel"
        return MastTop(name, foot_v, None, surge, inductance, reason)
    rate = np.gradient(impulse.current_a, impulse.times_s)
    along = 1e-6 * inductance * rate
    return MastTop(name, foot_v, float(np.max(np.abs(impulse.voltage_v + along))), surge, inductance)
