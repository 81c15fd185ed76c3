"""The person of a free case and the exposure of the risk in the project file."""

import pytest

from evenground.errors import InputError
from evenground.model.person import Exposure, Person
from evenground.project import parse_project, starter_text

PERSON = (
    "{body: fixed, body_ohm: 1000, current: square_root, constant_as: 0.116, paths: [left hand to both feet]}"
)


def project(*lines, standard="free", zone="", fault=""):
    text = starter_text("substation").replace("standard: ieee80", f"standard: {standard}")
    text = text.replace("assessment:\n", "assessment:\n" + "".join(f"  {line}\n" for line in lines))
    text = text.replace("    thickness_m: 0.1\n", f"    thickness_m: 0.1\n{zone}")
    return parse_project(text.replace("    shock_time_s:", f"{fault}    shock_time_s:", 1), "x.yaml")


def messages(*lines, **options):
    with pytest.raises(InputError, match=r"x\.yaml") as caught:
        project(*lines, **options)
    return " | ".join(str(f) for f in caught.value.findings)


def test_a_free_case_arrives_as_it_was_written():
    person = project(f"person: {PERSON}").assessment.person
    assert person == Person("fixed", 1000.0, 50.0, "square_root", 0.116, (), ("left hand to both feet",))
    assert person.complete


def test_a_zone_may_have_a_person_and_an_exposure_of_its_own():
    zone = (
        "    standard: free\n    person: {body: iec_2005, percentile: 5, current: c1, paths: [hand to hand], "
        "own_paths: [{name: knee to hand, heart_factor: 0.5, body_factor: 0.8, feet: none}], "
        "reason: visitors}\n"
        "    exposure: {contacts_per_year: 50, contact_duration_s: 4, faults_per_year: 0.1}\n"
    )
    yard = project(zone=zone, standard="ieee80").surface[0]
    assert yard.person.own_paths[0].feet == "none"
    assert yard.person.reason == "visitors"
    assert yard.exposure == Exposure(50.0, 4.0, 1, 0.1)


@pytest.mark.parametrize(
    ("lines", "options", "wanted"),
    [
        ((), {}, "standard free without a person"),
        (("person: {body: iec_2005}",), {}, "a free case without current and paths"),
        ((f"person: {PERSON}",), {"standard": "ieee80"}, "ieee80 has a person of its own"),
        (("person: {body: fixed, current: c2, paths: [hand to hand]}",), {}, "body: fixed without body_ohm"),
        (
            ("person: {body: iec_2005, body_ohm: 900, current: c2, paths: [hand to hand]}",),
            {},
            "body_ohm beside body: iec_2005",
        ),
        (
            (
                "person: {body: iec_2005, current: points, current_points: [[1, 0.1], [0.5, 0.2]], "
                "paths: [hand to hand]}",
            ),
            {},
            "order the points by time",
        ),
        (("person: {body: iec_2006, current: c2, paths: [hand to hand]}",), {}, "iec_2005"),
        (
            ("person: {body: iec_2005, current: c2, percentile: 99, paths: [hand to hand]}",),
            {},
            "percentile",
        ),
        (
            ("exposure: {contacts_per_year: 50, contact_duration_s: 4}",),
            {"standard": "ieee80"},
            "not how often there is the fault",
        ),
        (
            ("exposure: {contacts_per_year: 50, contact_duration_s: 4, faults_per_year: 1, governs: true}",),
            {"standard": "ieee80"},
            "the risk governs without a reason",
        ),
        (
            ("exposure: {contacts_per_year: -1, contact_duration_s: 4}",),
            {"standard": "ieee80"},
            "contacts_per_year",
        ),
    ],
)
def test_what_does_not_fit_is_said(lines, options, wanted):
    assert wanted in messages(*lines, **options)


def test_a_body_in_kilo_ohm_is_a_slip_of_the_unit():
    assert "kilo-ohms" in messages(f"person: {PERSON.replace('1000', '1')}")


def test_the_comparison_may_have_a_free_case_beside_a_standard():
    p = project(f"person: {PERSON}", "compare_standards: true", standard="ieee80")
    assert p.assessment.person.complete
