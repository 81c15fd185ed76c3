"""Parts of the report on the person of a free case and on the risk of a fatal shock."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from evenground.deliver._blocks import Block, heading, listing, table, text
from evenground.deliver.format import format_number, format_quantity, format_value
from evenground.standards.limits import BODIES, FIBRILLATION

if TYPE_CHECKING:
    from evenground.model.person import Person
    from evenground.model.risk import ZoneRisk
    from evenground.model.study import Study

__all__ = ["person_blocks", "risk_blocks", "risk_sentences"]


def person_blocks(study: Study) -> list[Block | None]:
    """Every choice of the persons stated, zone by zone."""
    a = study.project.assessment
    stated: list[tuple[str, Person]] = [("all zones without one of their own", a.person)] if a.person else []
    stated += [(z.name, z.person) for z in study.project.surface if z.person]
    if not stated:
        return []
    labels = list(_choices(stated[0][1]))
    columns = [_choices(person) for _, person in stated]
    rows = [[label, *(column[label] for column in columns)] for label in labels]
    return [
        heading("Persons stated"),
        text(
            "These limits are worked out for a stated person: body, current, paths and shoes are the choice "
            "of the engineer, and nothing is taken from a standard unless it is named here."
        ),
        table(
            "Choices of the free case",
            ["", *(name for name, _ in stated)],
            rows,
            widths=["auto", *["1fr"] * len(stated)],
            small=True,
        ),
    ]


def _choices(person: Person) -> dict[str, str]:
    own = [
        f"{p.name} (heart factor {p.heart_factor:g}, body factor {p.body_factor:g}, feet {p.feet})"
        for p in person.own_paths
    ]
    return {
        "Body": _body(person),
        "Per cent of people not above that impedance": f"{person.percentile:g}",
        "Body current": _current(person),
        "Paths": "; ".join((*person.paths, *own)) or "those of the standard",
        "Of several paths": {"mean": "the mean, as in EN 50522"}.get(person.combine, "the worst"),
        "Heart-current factor of the step": f"{person.step_heart_factor:g}",
        "Reason": person.reason or "none stated",
    }


def _body(person: Person) -> str:
    if person.body == "fixed":
        return f"{format_quantity(person.body_ohm, 'ohm')}, fixed"
    if person.body is None:
        return "that of the standard"
    body = BODIES[person.body]
    return f"{body.title} ({body.evidence})"


def _current(person: Person) -> str:
    if person.current is None:
        return "that of the standard"
    if person.current == "square_root":
        return f"{person.constant_as:g} A·√s over the root of the time"
    if person.current == "points":
        return "stated points: " + "; ".join(f"{t:g} s: {1000 * i:g} mA" for t, i in person.current_points)
    curve = FIBRILLATION[person.current]
    return f"{curve.title} of IEC TS 60479-1 ({curve.evidence})"


def risk_sentences(study: Study) -> list[str]:
    """One sentence a zone: risk, bands, what it rests on; never a word alone."""
    return [_sentence(risk) for risk in study.risks]


def _sentence(risk: ZoneRisk) -> str:
    role = "takes the place of the touch limit" if risk.governs else "stands beside the limits"
    if risk.individual_per_year is None:
        return f"Risk, {risk.zone}: not decided ({risk.reason}); {role}."
    return (
        f"Risk of a fatal shock, {risk.zone}: {_rate(risk.individual_per_year)} for the "
        f"most exposed person ({risk.individual_band} band); {risk.people} people together: "
        f"{risk.societal_band} band; {risk.contacts_per_year:g} contacts a year of "
        f"{risk.contact_duration_s:g} s stated; {role}. "
        f"It holds on {len(risk.assumptions)} assumptions, listed in the report."
    )


def _rate(per_year: float) -> str:
    return format_quantity(per_year, "1/year", 2)


def risk_blocks(study: Study) -> list[Block | None]:
    """Table of the risk, the bands, and every assumption."""
    if not study.risks:
        return []
    rows: list[list[Any]] = [
        [
            risk.zone,
            row.scenario,
            format_number(row.touch_v),
            format_value(row.faults_per_year),
            format_number(row.coincidence, 3),
            f"{format_number(row.fibrillation, 2)} / {format_number(row.fibrillation_piecewise, 2)}",
            _rate(row.individual_per_year),
            "none" if row.low_v is None else format_number(row.low_v, 3),
        ]
        for risk in study.risks
        for row in risk.scenarios
    ]
    bands = [
        [
            f"{risk.zone}{' (governs)' if risk.governs else ''}",
            "not decided" if risk.individual_per_year is None else _rate(risk.individual_per_year),
            {"bold": risk.individual_band},
            str(risk.people),
            "not decided" if risk.deaths_per_year is None else _rate(risk.deaths_per_year),
            {"bold": risk.societal_band},
        ]
        for risk in study.risks
    ]
    assumed = list(dict.fromkeys(words for risk in study.risks for words in risk.assumptions))
    unlike = [
        r for risk in study.risks for r in risk.scenarios if _unlike(r.fibrillation, r.fibrillation_piecewise)
    ]
    return [
        heading("Risk of a fatal shock by touch"),
        text(
            "The risk is the product of how often there is a fault, which share of the faults meets a "
            "contact, and how likely the shock at the worst place makes the heart fibrillate. A low band is "
            "no proof that a law is kept: some ask for everything that is reasonably practicable. "
            "Fibrillation is given from one log-normal distribution / from straight lines through the three "
            "curves; the larger counts."
            + (" The two differ much here: the curves carry little so far from them." if unlike else "")
        ),
        table(
            "Risk by zone and fault. The last column is the touch voltage at which this fault alone reaches "
            "one in a million a year",
            [
                "Zone",
                "Fault",
                "Touch, V",
                "Faults a year",
                "Meets a contact",
                "Fibrillation",
                "Risk a year",
                "V at 10⁻⁶",
            ],
            rows,
            align="llrrrrrr",
            widths=["auto", "1fr", *["auto"] * 6],
            small=True,
        ),
        table(
            "Risk by zone, all faults together, with its bands (low up to 10⁻⁶, intolerable above 10⁻⁴ a "
            "year for one person)",
            ["Zone", "One person a year", "Band", "People", "Deaths a year", "Band of all together"],
            bands,
            align="lrlrrl",
            small=True,
        ),
        heading("Assumptions of the risk"),
        listing(assumed),
    ]


def _unlike(a: float, b: float) -> bool:
    return max(a, b) > 3.0 * min(a, b)
