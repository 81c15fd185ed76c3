"""Each piece of metal, each joint and each rod lost in turn: what that does to resistance and touch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from evenground._study_field import with_backfill
from evenground._study_parts import native_resistivity
from evenground.field import Changed, KeptSolution, keep_solution
from evenground.model.electrode import Electrode, Point3
from evenground.model.soil import LayeredSoil
from evenground.model.study import Study, ZoneLimit
from evenground.provenance import recording
from evenground.safety import ZoneIndex, areas_of, zone_limits
from evenground.search._base import Base, Tell, exact_rises, prepare, rise_curve
from evenground.search._pieces import Pieces, pieces_of

__all__ = ["Loss", "Losses", "TouchGround", "rank_losses"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
MOST_POINTS = 6000
"""Places at which touch is looked at."""
SAME = 1e-6
"""Relative change of the resistance below which nothing has changed."""


@dataclass(frozen=True, slots=True)
class Loss:
    """One piece of metal, joint or rod lost, and the state after it.

    Attributes
    ----------
    kind : str
        ``"conductor"``, ``"rod"``, ``"joint"``; ``"none"`` for the metal as drawn.
    name : str
    start_m, end_m : (x, y, z)
        Ends of what is lost; the same place twice for a joint. [m]
    resistance_ohm : float
    resistance_change : float
        Relative to the metal as drawn.
    touch_v, limit_v : float
        Touch voltage nearest to its limit, or furthest beyond it. [V]
    utilisation_change : float
        Change of touch over limit.
    zone, scenario : str
        Where and for which fault.
    at_m : (x, y)
        Place of the worst touch. [m]
    cut_off_m : float
        Metal that is cut off by the loss and floats. [m]
    floating_share : float or None
        Highest potential of metal that floats, as a share of the potential rise; None: none floats.
    """

    kind: str
    name: str
    start_m: Point3
    end_m: Point3
    resistance_ohm: float
    resistance_change: float
    touch_v: float
    limit_v: float
    utilisation_change: float
    zone: str
    scenario: str
    at_m: tuple[float, float]
    cut_off_m: float
    floating_share: float | None

    @property
    def utilisation(self) -> float:
        """Touch over its limit; above 1 the limit is broken."""
        return self.touch_v / self.limit_v


@dataclass(frozen=True, slots=True)
class Losses:
    """The metal as drawn, every loss from the worst down, and what was assumed."""

    intact: Loss
    rows: tuple[Loss, ...]
    soil: LayeredSoil
    notes: tuple[str, ...]

    @property
    def breaking(self) -> tuple[Loss, ...]:
        """Losses after which a touch limit is broken that was kept before."""
        return tuple(r for r in self.rows if r.utilisation > 1.0 >= self.intact.utilisation)


@dataclass(frozen=True, eq=False)
class TouchGround:
    """Places where people can stand within reach of metal, with the zone of each. [m]"""

    places_m: FloatArray
    zone: IntArray
    names: tuple[str, ...]

    def worst(self, touch: FloatArray) -> dict[str, tuple[float, int]]:
        """Largest value of each zone and the index of its place."""
        found = {}
        for k in np.unique(self.zone):
            own = np.flatnonzero(self.zone == k)
            best = own[int(np.argmax(touch[own]))]
            found[self.names[int(k)]] = (float(touch[best]), int(best))
        return found


def rank_losses(study: Study, progress: Tell | None = None) -> Losses:
    """Take away each piece of metal between joints, each rod, and open each joint, one at a time.

    The matrix of the field solution is inverted once; every loss is a small correction of it, exact for
    these segments. Metal cut off by a loss floats: it takes no current in sum and stands at the potential
    that the ground gives it. What people touch is taken to be bonded to the rest.

    Raises
    ------
    OutOfRangeError
        For metal with its own impedance and for separate electrodes.
    TooLargeError
        With too many segments to keep the inverse.
    """
    tell = progress or (lambda text, done: None)
    tell("metal as drawn", 0.0)
    base = prepare(study.project, study.soil)
    layers = study.soil_used or study.soil.soil
    electrode, backfill = with_backfill(base.layout.electrode)
    kept = keep_solution(electrode, layers, segment_m=study.project.assessment.segment_m, backfill=backfill)
    case = next((c.name for c in study.soil_cases if c.governs), "")
    native = native_resistivity(study.project, case, layers)
    faults = exact_rises(base, study.soil.soil, kept.resistance_ohm)[0]
    with recording():
        index = ZoneIndex(study.project.surface)
        limits = zone_limits(index.zones, faults, study.project.assessment, native)
    ground = _ground(base, index)
    tell("influence of every segment", 0.2)
    run = _Run(base, study.soil.soil, kept, pieces_of(kept, electrode), ground, limits)
    return run.ranking(electrode, lambda text, done: tell(text, 0.5 + 0.5 * done))


def _ground(base: Base, index: ZoneIndex) -> TouchGround:
    """A raster over the touch area and points along the rims, where extremes tend to lie."""
    assessment = base.project.assessment
    area = areas_of(base.layout.outlines_m, assessment).touch
    spacing = max(assessment.raster_m, float(np.sqrt(area.area / MOST_POINTS)))
    x0, y0, x1, y1 = area.bounds
    gx, gy = np.meshgrid(np.arange(x0, x1 + spacing, spacing), np.arange(y0, y1 + spacing, spacing))
    inside = shapely.contains_xy(area, gx, gy)
    rims = [
        shapely.get_coordinates(shapely.segmentize(ring, spacing))
        for piece in index.pieces(area)
        for part in shapely.get_parts(piece.buffer(-1e-5))
        for ring in (part.exterior, *part.interiors)
    ]
    places = np.concatenate([np.column_stack([gx[inside], gy[inside]]), *rims])
    return TouchGround(places, index.at(*places.T), tuple(z.name for z in index.zones))


@dataclass(frozen=True)
class _State:
    """One loss before the currents are known: what it does to the unit solution."""

    kind: str
    name: str
    ends: tuple[Point3, Point3]
    resistance_ohm: float
    worst: dict[str, tuple[float, int]]
    cut_off_m: float
    floating_share: float | None


@dataclass(frozen=True, eq=False)
class _Run:
    base: Base
    surveyed: LayeredSoil
    kept: KeptSolution
    pieces: Pieces
    ground: TouchGround
    limits: Sequence[ZoneLimit]

    def ranking(self, electrode: Electrode, tell: Tell) -> Losses:
        points = np.column_stack([self.ground.places_m, np.zeros(len(self.ground.places_m))])
        per_volt = np.asfortranarray(self.kept.influence(points) @ self.kept.inverse_s)
        surface = per_volt.sum(axis=1)
        tell("one loss after the other", 0.0)

        def state(kind: str, name: str, ends: tuple[Point3, Point3], lost: _Lost) -> _State:
            changed, cut_off = self._apply(lost)
            touch = 1.0 - surface - changed.added(per_volt)
            share = float(changed.floating_v.max()) if len(changed.floating_v) else None
            worst = self.ground.worst(touch)
            return _State(kind, name, ends, changed.resistance_ohm, worst, cut_off, share)

        origin = (0.0, 0.0, 0.0)
        states = [state("none", "metal as drawn", (origin, origin), _Lost())]
        todo = list(self._todo(electrode))
        for k, (kind, name, ends, lost) in enumerate(todo):
            if k % 20 == 0:
                tell(f"loss {k + 1} of {len(todo)}", k / len(todo))
            states.append(state(kind, name, ends, lost))
        rows = self._scaled(states)
        ordered = sorted(rows[1:], key=lambda r: (-r.utilisation, -r.resistance_ohm))
        return Losses(rows[0], tuple(ordered), self.kept.soil, self._notes(rows))

    def _todo(self, electrode: Electrode) -> list[tuple[str, str, tuple[Point3, Point3], _Lost]]:
        found = []
        rods: dict[int, list[int]] = {}
        for k, piece in enumerate(self.pieces.pieces):
            metal = electrode.conductors[piece.conductor]
            if metal.start_m[:2] == metal.end_m[:2]:
                rods.setdefault(piece.conductor, []).append(k)
                continue
            name = f"{metal.tag or metal.kind}, {_where(piece.start_m)} to {_where(piece.end_m)}"
            found.append(("conductor", name, (piece.start_m, piece.end_m), _Lost(without=(k,))))
        for conductor, which in rods.items():
            metal = electrode.conductors[conductor]
            name = f"{metal.tag or 'rod'} at {_where(metal.start_m)}"
            found.append(("rod", name, (metal.start_m, metal.end_m), _Lost(without=tuple(which))))
        for joint in self.pieces.joints:
            ends = (joint.at_m, joint.at_m)
            found.append(("joint", f"joint at {_where(joint.at_m)}", ends, _Lost(opened=joint.node)))
        return found

    def _apply(self, lost: _Lost) -> tuple[Changed, float]:
        pieces = self.pieces.pieces
        loose = self.pieces.loose(without=lost.without, opened=lost.opened)
        removed = np.concatenate([np.zeros(0, dtype=np.int64), *(pieces[k].segments for k in lost.without)])
        floating = [np.concatenate([pieces[k].segments for k in part]) for part in loose]
        cut_off = sum(pieces[k].length_m for part in loose for k in part)
        return self.kept.without(removed, floating), cut_off

    def _scaled(self, states: Sequence[_State]) -> list[Loss]:
        rises = rise_curve(self.base, self.surveyed, [s.resistance_ohm for s in states])
        limit = {(row.zone, row.scenario): row.touch_v for row in self.limits}
        rows: list[Loss] = []
        for k, s in enumerate(states):
            options = [
                (touch * rise[k], limit[zone, scenario], zone, scenario, place)
                for zone, (touch, place) in s.worst.items()
                for scenario, rise in rises.items()
            ]
            touch_v, limit_v, zone, scenario, place = max(options, key=lambda o: o[0] / o[1])
            first = rows[0] if rows else None
            x, y = self.ground.places_m[place]
            rows.append(
                Loss(
                    kind=s.kind,
                    name=s.name,
                    start_m=s.ends[0],
                    end_m=s.ends[1],
                    resistance_ohm=s.resistance_ohm,
                    resistance_change=s.resistance_ohm / first.resistance_ohm - 1.0 if first else 0.0,
                    touch_v=float(touch_v),
                    limit_v=limit_v,
                    utilisation_change=float(touch_v / limit_v) - first.utilisation if first else 0.0,
                    zone=zone,
                    scenario=scenario,
                    at_m=(float(x), float(y)),
                    cut_off_m=s.cut_off_m,
                    floating_share=s.floating_share,
                )
            )
        return rows

    def _notes(self, rows: Sequence[Loss]) -> tuple[str, ...]:
        still = sum(r.kind == "joint" and abs(r.resistance_change) < SAME for r in rows)
        cut = sum(r.cut_off_m > 0 for r in rows)
        notes = [
            "one loss at a time; metal at one potential, so a break counts only by the metal that is lost or "
            "cut off, not by the longer way of the current (heating and voltage along what is left were not "
            "looked at)",
            "touch is looked at on a raster without refinement; the study's own figure is a little higher",
        ]
        if still:
            notes.append(
                f"{still} joints change nothing when they open: all their metal stays connected elsewhere"
            )
        if cut:
            notes.append(
                f"{cut} losses cut metal off; it floats, and equipment bonded to it alone would float with it"
            )
        return tuple(notes)


@dataclass(frozen=True)
class _Lost:
    without: tuple[int, ...] = ()
    opened: int | None = None


def _where(point: Point3) -> str:
    return f"({point[0]:.4g}, {point[1]:.4g}) m"
