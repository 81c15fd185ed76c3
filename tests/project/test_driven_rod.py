"""A driven rod in the project file, and what does not belong to it."""

import pytest

from evenground.errors import InputError
from evenground.model.soil import ArrayKind
from evenground.project import parse_project, starter_text

ROD = "array: driven_rod, rod_diameter_mm: 16"
READINGS = "[{rod_length_m: 1, resistance_ohm: 90}, {rod_length_m: 2, voltage_v: 5, current_a: 0.1}]"


def project(line, segments="joined"):
    text = starter_text("substation")
    start, end = text.index("  traverses:"), text.index("\nfaults:")
    soil = f"  model: {{segments: {segments}}}\n  traverses:\n    - {{name: R1, {line}}}\n"
    head = text[:start]
    if "  model:" in head:
        head = head[: head.index("  model:")]
    return parse_project(head + soil + text[end:], "x.yaml")


def test_rods_arrive_with_their_diameter():
    p = project(f"{ROD}, readings: {READINGS}", "shifted")
    (traverse,) = p.traverses
    assert traverse.array is ArrayKind.DRIVEN_ROD
    assert [(r.rod_length_m, r.rod_diameter_m) for r in traverse.readings] == [(1.0, 0.016), (2.0, 0.016)]
    assert p.soil_choice.segments == "shifted"


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        (f"array: driven_rod, readings: {READINGS}", "a driven rod without a diameter"),
        (f"{ROD}, readings: [{{spacing_m: 1, resistance_ohm: 9}}]", "spacing_m does not belong"),
        (f"{ROD}, readings: [{{resistance_ohm: 9}}]", "without rod_length_m"),
        (
            "array: wenner, rod_diameter_mm: 16, readings: [{spacing_m: 1, resistance_ohm: 9}]",
            "write array: driven_rod",
        ),
        (
            "array: wenner, readings: [{spacing_m: 1, rod_length_m: 1, resistance_ohm: 9}]",
            "give probe_depth_m",
        ),
        (f"{ROD}, readings: [{{rod_length_m: 150, resistance_ohm: 9}}]", "centimetres: 1.5 m"),
    ],
)
def test_what_does_not_belong_is_said(line, wanted):
    with pytest.raises(InputError, match=r"x\.yaml") as caught:
        project(line)
    assert wanted in " | ".join(str(f) for f in caught.value.findings)
