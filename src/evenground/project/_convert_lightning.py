"""The section ``lightning`` as frozen shapes."""

from __future__ import annotations

from collections.abc import Sequence

from evenground.model.lightning import (
    ArresterPlace,
    Building,
    Mast,
    ProtectedObject,
    ShieldWire,
    SphereRule,
    Terminals,
)
from evenground.model.lightning_site import ImpulseWish, LightningSite, MastFoot, Transient
from evenground.project._schema_lightning import (
    ArresterFile,
    BoxFile,
    ImpulseFile,
    LightningFile,
    ShieldedFile,
    TransientFile,
)

__all__ = ["to_lightning"]


def to_lightning(file: LightningFile | None) -> LightningSite | None:
    """Lightning protection in SI units; None when the file has no such section."""
    if file is None:
        return None
    insulation = file.insulation
    return LightningSite(
        terminals=Terminals(
            masts=tuple(Mast(m.name, _pair(m.at_m), m.height_m) for m in file.masts),
            wires=tuple(
                ShieldWire(w.name, _triple(w.start_m), _triple(w.end_m), w.sag_m) for w in file.wires
            ),
            buildings=tuple(_box(b.name, b) for b in file.buildings),
        ),
        objects=tuple(_object(o) for o in file.protected),
        protection_level=file.protection_level,
        insulation=None
        if insulation is None
        else (insulation.impulse_withstand_kv, insulation.surge_impedance_ohm, insulation.mast_factor),
        rule=None
        if file.sphere_radius_m is None
        else SphereRule(file.sphere_radius_m, source="radius stated in the project file", evidence="stated"),
        cone_angle_deg=file.cone_angle_deg,
        clearance_m=file.clearance_m,
        flashes_per_km2_year=file.flashes_per_km2_year,
        feet=tuple(
            MastFoot(
                m.name,
                _pair(m.foot_m or m.at_m),
                m.down_conductors,
                m.height_m,
                None if m.radius_mm is None else m.radius_mm / 1000,
            )
            for m in file.masts
            if m.own_electrode
        ),
        arresters=tuple(_arrester(a) for a in file.arresters),
        transformers=tuple((t.name, _pair(t.at_m)) for t in file.transformers),
        contour_heights_m=tuple(file.contour_heights_m),
        elevations=tuple((e.name, _pair(e.from_m), _pair(e.to_m)) for e in file.elevations),
        window_m=_window(file.window_m),
        impulse=_impulse(file.impulse),
        transients=tuple(_transient(t) for t in file.transients),
    )


def _pair(place: Sequence[float]) -> tuple[float, float]:
    return place[0], place[1]


def _triple(place: Sequence[float]) -> tuple[float, float, float]:
    return place[0], place[1], place[2]


def _box(name: str, file: BoxFile) -> Building:
    return Building(name, _pair(file.centre_m), file.length_m, file.width_m, file.height_m, file.angle_deg)


def _object(file: ShieldedFile) -> ProtectedObject:
    box = None if file.box is None else _box(file.name, file.box)
    return ProtectedObject(file.name, tuple(_triple(p) for p in file.points_m), file.joined, box)


def _arrester(file: ArresterFile) -> ArresterPlace:
    values = file.model_dump()
    return ArresterPlace(**(values | {"at_m": None if file.at_m is None else _pair(file.at_m)}))


def _window(outline: Sequence[Sequence[float]] | None) -> tuple[float, float, float, float] | None:
    if outline is None:
        return None
    xs, ys = [p[0] for p in outline], [p[1] for p in outline]
    return min(xs), min(ys), max(xs), max(ys)


def _impulse(file: ImpulseFile | None) -> ImpulseWish | None:
    if file is None:
        return None
    gradient = None if file.ionisation_kv_per_m is None else 1e3 * file.ionisation_kv_per_m
    return ImpulseWish(file.wave, file.resistivity_ohm_m, file.reach_m, gradient)


def _transient(file: TransientFile) -> Transient:
    return Transient(
        name=file.name,
        at_m=_pair(file.at_m),
        amplitude_a=1e3 * file.amplitude_ka,
        frequency_hz=file.frequency_hz,
        decay_s=file.decay_s,
        reach_m=file.reach_m,
        down_conductor_mm2=file.down_conductor_mm2,
        watched=tuple((w.name, _pair(w.at_m), 1e3 * w.withstand_kv) for w in file.watched),
    )
