"""Places of towers and other earths: what they become, and what is said when they are wrong."""

from math import hypot

import pytest

from evenground.errors import InputError
from evenground.project import parse_project, starter_text

NETWORK = """
network:
  stations:
    - {name: Upper, impedance_ohm: [0.2, 0.1], place: {at_m: [900, 0], width_m: 40, depth_m: 0.8}}
    - {name: Lower, impedance_ohm: [1.5, 0]}
  lines:
    - name: ridge line
      far_station: Upper
      span_lengths_m: [250, 300, 280]
      tower_resistances_ohm: [12, null]
      towers: {from_m: [40, 60], bearing_deg: 90, count: 2}
      given: {self_ohm_per_km: [0.59, 0.96], mutual_ohm_per_km: [0.06, 0.47]}
  neutrals:
    - name: village
      spans: {count: 5, length_m: 100}
      tower_resistance_ohm: 25
      given: {self_ohm_per_km: [0.59, 0.96], mutual_ohm_per_km: [0.06, 0.47]}
      towers:
        at_m: [[-80, 0], [-180, 5]]
        counterpoises: [{tower: 2, points_m: [[-180, 5], [-210, 40]]}]
  cables:
    - name: town cable
      far_station: Lower
      length_m: 1500
      sheath: {resistance_ohm_per_km: 0.5, radius_mm: 16}
      joints: [{distance_m: 700, earth_resistance_ohm: 9, place: {at_m: [10, -500]}}]
  groups: [{name: fence, resistance_ohm: 9, place: {at_m: [0, 200], depth_m: 2}}]
  transformers:
    - {name: T1, contributions: [{fault: 110 kV single line to earth}]}
"""
TEXT = starter_text("substation").replace("\nconductors:", NETWORK + "\nconductors:", 1)


def test_every_place_becomes_an_earth_with_the_name_that_the_network_knows():
    network = parse_project(TEXT).network
    placed = {e.name: e for e in network.placed}
    assert list(placed) == ["ridge line/1", "village/1", "village/2", "town cable/joint 1", "Upper", "fence"]
    assert set(placed) < set(network.earths_ohm)
    assert placed["village/2"].label == "village, pole 2"
    assert placed["Upper"].frame
    assert placed["Upper"].depth_m == 0.8
    assert not placed["fence"].frame
    wire = placed["village/2"].wires[0]
    assert hypot(*(b - a for a, b in zip(*wire.points_m, strict=True))) == pytest.approx(46.1, abs=0.01)


def test_a_bearing_is_clockwise_from_the_y_axis_and_a_tower_without_earth_is_no_earth():
    """Bearings as on a compass (common practice); tower 2 has no resistance."""
    placed = {e.name: e for e in parse_project(TEXT).network.placed}
    assert placed["ridge line/1"].at_m == pytest.approx((290.0, 60.0))
    assert placed["ridge line/1"].width_m == 5.0  # legs of a line's tower, when not stated
    assert placed["village/1"].width_m == 0.0
    assert "ridge line/2" not in placed


WRONG = [
    ("count: 2}", "count: 3}", r"places for 3 towers, the line has 2 before its end"),
    (", count: 2}", "}", "towers without their places"),
    ("bearing_deg: 90", "at_m: [[290, 60]], bearing_deg: 90", "at_m and from_m are given together"),
    ("tower: 2", "tower: 3", "a counterpoise at tower 3, of which no place is given"),
    (", earth_resistance_ohm: 9", "", "a joint without an electrode has nothing to couple"),
    ("width_m: 40", "width_m: 0.02", "a width of 0.02 m is less than four diameters"),
    ("from_m: [40, 60]", "form_m: [40, 60]", "did you mean 'from_m'"),
]


@pytest.mark.parametrize(("old", "new", "words"), WRONG, ids=[w for _, _, w in WRONG])
def test_what_does_not_fit_is_refused(old, new, words):
    assert TEXT.count(old) == 1
    with pytest.raises(InputError, match=words):
        parse_project(TEXT.replace(old, new))


def test_a_reduced_line_has_no_towers_to_place():
    reduced = TEXT.replace(
        "      given: {self_ohm_per_km: [0.59, 0.96], mutual_ohm_per_km: [0.06, 0.47]}\n", "", 1
    )
    reduced = reduced.replace("      span_lengths_m: [250, 300, 280]\n", "      reduction_factor: 0.7\n")
    reduced = reduced.replace("      tower_resistances_ohm: [12, null]\n", "").replace(
        "      far_station: Upper\n", ""
    )
    with pytest.raises(InputError, match="towers beside reduction_factor"):
        parse_project(reduced)


def test_places_that_do_not_fit_the_span_are_a_warning():
    project = parse_project(TEXT.replace("[-180, 5]]\n", "[-260, 5]]\n", 1))
    rows = [w for w in project.warnings if w.code == "place-span"]
    assert [w.message for w in rows] == ["towers 1 and 2 are 180 m apart in plan, their span is 100 m"]
    assert rows[0].path[-2:] == ("at_m", 1)
