"""What a search keeps of a project: the stages before the field, done once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenground._study_coupling import at_resistance, soil_coupling_from_far
from evenground._study_parts import extent_m, potential_rise, share_later
from evenground._study_split import share_currents
from evenground.conductor import size_conductor
from evenground.electrode import build_electrode
from evenground.errors import OutOfRangeError
from evenground.fault import fault_currents
from evenground.model.conductor import ConductorResult
from evenground.model.coupling import SoilCoupling
from evenground.model.fault import FaultResult
from evenground.model.layout import ElectrodeLayout
from evenground.model.project import Project
from evenground.model.soil import LayeredSoil, SoilResult
from evenground.provenance import recording
from evenground.soil import interpret_soil

__all__ = ["Base", "Tell", "exact_rises", "prepare", "rise_curve"]

FloatArray = NDArray[np.float64]
Tell = Callable[[str, float], None]
"""Called with a text and the fraction done; may raise CancelledError to stop."""
CURVE_POINTS = 7
UNKNOWN_OHM = 1e6
"""Stands for the resistance of the mat until a search knows it; coupling does not depend on it. [ohm]"""


@dataclass(frozen=True, eq=False)
class Base:
    """The stages of a study that come before the field; faults without the share of the mat.

    ``coupling`` with placed earths is that of the drawn mat, as if it leaked evenly.
    """

    project: Project
    soil: SoilResult
    faults: tuple[FaultResult, ...]
    conductors: dict[str, ConductorResult]
    layout: ElectrodeLayout
    coupling: SoilCoupling | None = None


def prepare(project: Project, soil: SoilResult | None = None) -> Base:
    """Run soil, faults, conductors and layout of a project.

    Raises
    ------
    OutOfRangeError
        For what the searches do not follow: entry points of the current (metal with its own impedance)
        and separate electrodes linked to the mat.
    """
    if project.assessment.entry_points:
        raise OutOfRangeError("entry points: the search takes all metal at one potential; leave them out")
    if project.separate:
        raise OutOfRangeError("separate electrodes: the search looks at the bonded metal only")
    with recording():
        found = soil or interpret_soil(project.traverses, project.soil_choice, mat_extent_m=extent_m(project))
        faults = tuple(
            fault_currents(f, frequency_hz=project.frequency_hz, share_later=share_later(project, f))
            for f in project.faults
        )
        conductors = {k: size_conductor(r, faults) for k, r in project.conductors.items()}
    radii_m = {k: c.radius_m for k, c in conductors.items()}
    layout = build_electrode(project.mats, project.rods, project.runs, radii_m)
    with recording():
        near = soil_coupling_from_far(project.network, layout, found.soil, UNKNOWN_OHM)
    return Base(project, found, faults, conductors, layout, near)


def exact_rises(
    base: Base, surveyed: LayeredSoil, resistance_ohm: float
) -> tuple[tuple[FaultResult, ...], dict[str, float]]:
    """Faults with the share that this resistance takes, and the potential rise of each scenario. [ohm, V]"""
    with recording():
        near = at_resistance(base.coupling, resistance_ohm)
        faults, _ = share_currents(base.project, base.faults, surveyed, resistance_ohm, near)
        return faults, potential_rise(faults, resistance_ohm)


def rise_curve(
    base: Base, surveyed: LayeredSoil, resistances_ohm: Sequence[float] | FloatArray
) -> dict[str, FloatArray]:
    """Potential rise of each scenario for many resistances. [ohm -> V]

    Without a network the rise is in proportion. With one it is a smooth curve: computed at a few
    resistances and put through monotone cubics between them.
    """
    from scipy.interpolate import PchipInterpolator

    wanted = np.asarray(resistances_ohm, dtype=float)
    low, high = float(wanted.min()), float(wanted.max())
    if base.project.network is None or high <= low * (1.0 + 1e-9):
        rises = exact_rises(base, surveyed, low)[1]
        return {name: value * wanted / low for name, value in rises.items()}
    places = np.geomspace(low, high, CURVE_POINTS)
    rows = [exact_rises(base, surveyed, float(r))[1] for r in places]
    return {
        name: np.asarray(PchipInterpolator(places, [row[name] for row in rows])(np.clip(wanted, low, high)))
        for name in rows[0]
    }
