"""The person stated in the project file as body, current and paths of a limit."""

from __future__ import annotations

from dataclasses import replace

from evenground.model.person import Person
from evenground.model.site import Assessment, SurfaceZone
from evenground.standards.limits import (
    BODIES,
    FIBRILLATION,
    PATHS,
    BodyModel,
    BodyPath,
    LimitCase,
    TimeCurve,
    constant_body,
    dalziel_curve,
)

__all__ = ["person_of", "with_person"]

TAKES_PERSON = ("free", "iec60479_derived")
"""Standards that are worked out for a stated person."""


def person_of(zone: SurfaceZone, assessment: Assessment) -> Person | None:
    """Person of a zone: its own, or that of the assessment."""
    return zone.person or assessment.person


def with_person(case: LimitCase, person: Person | None) -> LimitCase:
    """The case with what the person states; unchanged when the standard has a person of its own."""
    if person is None or case.standard not in TAKES_PERSON:
        return case
    paths = (
        *(PATHS[name] for name in person.paths),
        *(BodyPath(p.name, p.heart_factor, p.body_factor, p.feet) for p in person.own_paths),
    )
    if person.combine == "mean":
        paths = tuple(replace(p, voltage_factor=0.7) if p.name == "hand to hand" else p for p in paths)
    return replace(
        case,
        body=_body(person),
        body_percentile=person.percentile,
        current=_current(person),
        paths=paths or None,
        combine=person.combine,
        step_path=BodyPath("foot to foot", person.step_heart_factor, 1.0, "apart"),
    )


def _body(person: Person) -> BodyModel | None:
    if person.body is None:
        return None
    if person.body == "fixed":
        assert person.body_ohm is not None
        return constant_body(person.body_ohm)
    return BODIES[person.body]


def _current(person: Person) -> TimeCurve | None:
    if person.current is None:
        return None
    if person.current == "square_root":
        assert person.constant_as is not None
        return dalziel_curve(person.constant_as)
    if person.current == "points":
        return TimeCurve(
            "stated", "stated curve", person.current_points, "stated by the engineer", "stated", unit="A"
        )
    return FIBRILLATION[person.current]
