"""Lightning in a study: from the stated masts and arresters and the found electrode to its chapter."""

from __future__ import annotations

from dataclasses import replace
from math import dist, hypot
from typing import TYPE_CHECKING

from evenground._study_memory import remembered
from evenground.errors import EvengroundError, Finding, InputError, Severity
from evenground.model.electrode import Electrode
from evenground.model.metalwork import Metalwork

if TYPE_CHECKING:
    from evenground.model.electrode import Conductor, Point3
    from evenground.model.layout import ElectrodeLayout
    from evenground.model.lightning import (
        ContourRequest,
        ImpulseRequest,
        LightningRequest,
        LightningResult,
        ObjectShielding,
        ShieldingRequest,
        ShieldingResult,
        SphereRule,
    )
    from evenground.model.lightning_site import LightningSite, MastFoot
    from evenground.model.project import Project
    from evenground.model.site import Point2
    from evenground.model.soil import LayeredSoil

__all__ = ["at_depth", "lightning_covered", "lightning_open", "on_metal", "piece_around", "study_lightning"]

_PATH = ("lightning",)
_NEAR_M = 0.5
_LEVELS = {"I": 1, "II": 2, "III": 3, "IV": 4}
_PIECE_M = 5.0
_RASTERS = 60
"""Cells along the longer side of the plan of the protected zone."""


def lightning_covered(site: LightningSite) -> tuple[str, str]:
    """Status and words for the list of what is covered."""
    parts = []
    if site.objects:
        parts.append(f"rolling sphere in 3-D, {len(site.objects)} objects")
    if site.arresters:
        parts.append(f"leads and distances of {len(site.arresters)} arresters")
    if site.feet:
        parts.append(f"feet of {len(site.feet)} masts")
    if site.impulse is not None:
        parts.append("impulse impedance at the masts, uniform soils for the layers")
    whole = bool(site.objects and site.arresters and site.feet and site.impulse)
    return ("covered" if whole else "partly covered" if parts else "open"), "; ".join(
        parts
    ) or "nothing stated"


def lightning_open(site: LightningSite) -> str:
    """What of lightning is left unchecked."""
    left = []
    if not site.objects:
        left.append("shielding")
    if not site.arresters:
        left.append("surge arresters and their leads")
    if site.impulse is None:
        left.append("impulse behaviour of the electrode")
    left.append("surges on the lines, inside buildings and in control cables")
    words = ", ".join(left)
    return f"Lightning: {words}; objects that the project file does not name"


def study_lightning(
    project: Project, layout: ElectrodeLayout, soil: LayeredSoil, resistance_ohm: float
) -> LightningResult | None:
    """Shielding, strikes, arresters, feet of masts and impulse impedances; None without the section.

    Raises
    ------
    InputError
        When a part refuses its input, with the place in the project file.
    """
    site = project.lightning
    if site is None:
        return None
    from evenground._study_impulse import mast_tops, transient_checks
    from evenground.lightning import assess_lightning, exposure

    rule = _rule(site)
    try:
        shielding = None if rule is None or not site.objects else remembered(_shielding, site, rule)
        request = _request(site, layout, soil, resistance_ohm, rule, _listed_rods(project))
        exposed = None if request.exposure is None else remembered(exposure, request.exposure)
        result = assess_lightning(replace(request, exposure=None))
    except InputError as error:
        raise InputError([replace(f, path=f.path or _PATH) for f in error.findings]) from error
    shielded = () if shielding is None else shielding.checks
    surges = transient_checks(site, layout.electrode, soil)
    found = [replace(f, path=f.path or _PATH) for f in (*result.findings, *_left(site, rule))]
    return replace(
        result,
        exposure=exposed,
        shielding=shielding or remembered(_only_drawn, site, rule),
        mast_tops=mast_tops(site, result),
        checks=(*shielded, *result.checks, *surges),
        findings=tuple(found),
    )


def _rule(site: LightningSite) -> SphereRule | None:
    from evenground.lightning import insulation_rule, level_rule

    if site.protection_level is not None:
        return level_rule(site.protection_level)
    if site.insulation is not None:
        withstand, surge, factor = site.insulation
        return insulation_rule(withstand, surge, mast_factor=factor)
    return site.rule


def _left(site: LightningSite, rule: SphereRule | None) -> list[Finding]:
    """What was stated but could not be used."""
    rows = []
    if site.flashes_per_km2_year is not None and not site.objects:
        rows.append(
            Finding("strikes-none", "flashes are stated, but nothing to protect", "name it under protected")
        )
    return [replace(r, severity=Severity.NOTE) for r in rows]


def _base(site: LightningSite, rule: SphereRule) -> ShieldingRequest:
    from evenground.model.lightning import ShieldingRequest

    return ShieldingRequest(
        terminals=site.terminals,
        objects=site.objects,
        rule=rule,
        cone_angle_deg=site.cone_angle_deg,
        needed_clearance_m=site.clearance_m,
    )


def _shielding(site: LightningSite, rule: SphereRule) -> ShieldingResult:
    """Every object first, then the drawings, of which one goes through the worst object."""
    from evenground.lightning import assess_shielding, required_heights

    request = _base(site, rule)
    result = assess_shielding(request)
    kept = all(o.protected for o in result.objects)
    result = replace(result, heights=required_heights(request, each=not kept))
    drawn = assess_shielding(replace(request, objects=(), contours=_drawings(site, result.objects)))
    return replace(result, contours=drawn.contours, elevations=drawn.elevations)


def _only_drawn(site: LightningSite, rule: SphereRule | None) -> ShieldingResult | None:
    from evenground.lightning import assess_shielding

    if site.objects or rule is None or not (site.contour_heights_m or site.elevations):
        return None
    return assess_shielding(replace(_base(site, rule), contours=_drawings(site, ())))


def _drawings(site: LightningSite, objects: tuple[ObjectShielding, ...]) -> ContourRequest:
    from evenground.model.lightning import ContourRequest

    window = site.window_m or _window(site)
    heights = site.contour_heights_m or _heights(site)
    sections = tuple((start, end) for _, start, end in site.elevations)
    if not sections and objects:
        worst = min(objects, key=lambda o: o.clearance_m)
        y = worst.worst_point_m[1]
        sections = (((window[0], y), (window[2], y)),)
    raster = max(window[2] - window[0], window[3] - window[1]) / _RASTERS
    return ContourRequest(heights, sections, window, max(raster, 0.25))


def _heights(site: LightningSite) -> tuple[float, ...]:
    """Tops of the lowest and of the highest object."""
    tops = [_top(thing.box.height_m if thing.box else 0.0, thing.points_m) for thing in site.objects]
    return tuple(sorted({min(tops), max(tops)})) if tops else ()


def _top(box_m: float, points: tuple[Point3, ...]) -> float:
    return max([box_m, *(p[2] for p in points)])


def _window(site: LightningSite) -> tuple[float, float, float, float]:
    """Around everything stated, with room for the zone beyond the masts. [m]"""
    spots: list[Point2] = [m.at_m for m in site.terminals.masts]
    spots += [p[:2] for w in site.terminals.wires for p in (w.start_m, w.end_m)]
    boxes = [*site.terminals.buildings, *(t.box for t in site.objects if t.box)]
    for box in boxes:
        reach = 0.5 * hypot(box.length_m, box.width_m)
        x, y = box.centre_m
        spots += [(x - reach, y - reach), (x + reach, y + reach)]
    spots += [p[:2] for t in site.objects for p in t.points_m]
    xs, ys = zip(*spots, strict=True)
    pad = max(8.0, 0.3 * max(max(xs) - min(xs), max(ys) - min(ys)))
    return min(xs) - pad, min(ys) - pad, max(xs) + pad, max(ys) + pad


def _listed_rods(project: Project) -> dict[str, int]:
    """Own rods of the masts by the equipment list, by tag."""
    return {e.tag: e.electrodes or 0 for e in project.installation.equipment if e.kind == "lightning mast"}


def _request(
    site: LightningSite,
    layout: ElectrodeLayout,
    soil: LayeredSoil,
    resistance_ohm: float,
    rule: SphereRule | None,
    rods: dict[str, int],
) -> LightningRequest:
    from evenground.model.lightning import (
        ExposureRequest,
        LightningRequest,
        MastConnection,
        TransformerPlace,
    )

    level = None if site.protection_level is None else _LEVELS[site.protection_level]
    metal = layout.electrode
    exposure = None
    if site.flashes_per_km2_year is not None and site.objects:
        exposure = ExposureRequest(
            site.terminals,
            site.objects,
            site.flashes_per_km2_year,
            mast_factor=rule.mast_factor if rule else 1.0,
            critical_current_ka=rule.current_ka if rule else None,
        )
    return LightningRequest(
        exposure=exposure,
        arresters=site.arresters,
        masts=tuple(
            MastConnection(f.name, on_metal(f.at_m, metal), f.down_conductors, level, rods.get(f.name, 0))
            for f in site.feet
        ),
        transformers=tuple(TransformerPlace(n, on_metal(at, metal)) for n, at in site.transformers),
        electrode=metal,
        resistivity_ohm_m=at_depth(soil, _mean_depth(layout)),
        mat_resistance_ohm=resistance_ohm,
        impulses=_impulses(site, metal, soil),
    )


def on_metal(at: Point2, metal: Electrode) -> Point3:
    """The place with the depth of the metal nearest in plan; the place itself is not moved."""
    near = min(metal, key=lambda c: _plan_gap(at, c))
    (x0, y0, z0), (x1, y1, z1) = near.start_m, near.end_m
    length = (x1 - x0) ** 2 + (y1 - y0) ** 2
    part = 0.0 if length == 0 else ((at[0] - x0) * (x1 - x0) + (at[1] - y0) * (y1 - y0)) / length
    part = min(max(part, 0.0), 1.0)
    depth = min(z0, z1) if length == 0 else z0 + part * (z1 - z0)
    return (at[0], at[1], depth)


def _plan_gap(at: Point2, c: Conductor) -> float:
    (x0, y0, _), (x1, y1, _) = c.start_m, c.end_m
    length = (x1 - x0) ** 2 + (y1 - y0) ** 2
    part = 0.0 if length == 0 else ((at[0] - x0) * (x1 - x0) + (at[1] - y0) * (y1 - y0)) / length
    part = min(max(part, 0.0), 1.0)
    return dist(at, (x0 + part * (x1 - x0), y0 + part * (y1 - y0)))


def _mean_depth(layout: ElectrodeLayout) -> float:
    flat = [c for c in layout.electrode if c.start_m[2] == c.end_m[2]] or list(layout.electrode)
    total = sum(c.length_m for c in flat)
    return sum(c.length_m * 0.5 * (c.start_m[2] + c.end_m[2]) for c in flat) / total


def at_depth(soil: LayeredSoil, depth_m: float) -> float:
    """Resistivity of the layer at a depth. [ohm m]"""
    bottom = 0.0
    for resistivity, thickness in zip(soil.resistivities_ohm_m, soil.thicknesses_m, strict=False):
        bottom += thickness
        if depth_m < bottom:
            return resistivity
    return soil.resistivities_ohm_m[-1]


def _impulses(site: LightningSite, metal: Electrode, soil: LayeredSoil) -> tuple[ImpulseRequest, ...]:
    """Requests for each mast whose foot is on the metal; the others are told by their findings."""
    wish = site.impulse
    if wish is None:
        return ()
    from evenground._study_impulse import soils_of_piece
    from evenground.lightning import FIRST_STROKE, SUBSEQUENT_STROKE
    from evenground.model.lightning import FrequencySoil, ImpulseRequest

    wave = FIRST_STROKE if wish.wave == "first_stroke" else SUBSEQUENT_STROKE
    rows = []
    for foot in site.feet:
        if min(_plan_gap(foot.at_m, c) for c in metal) > _NEAR_M:
            continue
        place = on_metal(foot.at_m, metal)
        piece = piece_around(metal, foot, place, wish.reach_m)
        own = wish.resistivity_ohm_m
        soils = soils_of_piece(piece, soil, at_depth(soil, place[2])) if own is None else (("", own),)
        for words, resistivity in soils:
            rows.append(
                ImpulseRequest(
                    electrode=piece,
                    injection_m=place,
                    soil=FrequencySoil(resistivity),
                    wave=replace(wave, name=f"mast {foot.name}, {wave.name}{words}"),
                    ionisation_v_per_m=wish.ionisation_v_per_m,
                    snap_m=_NEAR_M,
                )
            )
    return tuple(rows)


def piece_around(metal: Electrode, foot: MastFoot, place: Point3, reach_m: float) -> Electrode:
    """The metal joined to the foot within a reach in plan, lines cut into pieces first."""
    kept = []
    for c in metal:
        count = max(1, round(c.length_m / _PIECE_M)) if c.start_m[:2] != c.end_m[:2] else 1
        for k in range(count):
            ends = [_along(c, k / count), _along(c, (k + 1) / count)]
            if all(dist(foot.at_m, end[:2]) <= reach_m for end in ends):
                kept.append(replace(c, start_m=ends[0], end_m=ends[1], embedding=None))
    if not kept:
        raise EvengroundError(f"{foot.name}: no metal lies wholly within {reach_m:g} m of its foot")
    net = Metalwork.from_conductors(kept, cut_at_m=[place], snap_m=_NEAR_M)
    labels = net.pieces_of_bonded_net()
    own = labels[net.nearest_node(place)[0]]
    joined = {int(c) for c, end in zip(net.conductor, net.start, strict=True) if labels[end] == own}
    return Electrode(c for k, c in enumerate(kept) if k in joined)


def _along(c: Conductor, part: float) -> Point3:
    if part in (0.0, 1.0):
        return c.start_m if part == 0.0 else c.end_m
    x, y, z = (a + part * (b - a) for a, b in zip(c.start_m, c.end_m, strict=True))
    return (x, y, z)
