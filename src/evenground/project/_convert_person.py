"""Person and exposure of the file as frozen shapes."""

from __future__ import annotations

from evenground.model.person import Exposure, OwnPath, Person
from evenground.project._schema_person import ExposureFile, PersonFile

__all__ = ["to_exposure", "to_person"]


def to_person(file: PersonFile | None) -> Person | None:
    """The person of a free case."""
    if file is None:
        return None
    return Person(
        body=file.body,
        body_ohm=file.body_ohm,
        percentile=file.percentile,
        current=file.current,
        constant_as=file.constant_as,
        current_points=tuple((t, i) for t, i in file.current_points or ()),
        paths=tuple(file.paths),
        own_paths=tuple(OwnPath(p.name, p.heart_factor, p.body_factor, p.feet) for p in file.own_paths),
        combine=file.combine,
        step_heart_factor=file.step_heart_factor,
        reason=file.reason,
    )


def to_exposure(file: ExposureFile | None) -> Exposure | None:
    """How often people are there."""
    return None if file is None else Exposure(**file.model_dump())
