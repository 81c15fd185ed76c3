# ruff: noqa: E501 (one mistake on one line reads best)
"""The network of a project file: what it becomes, and what is said when it is wrong."""

import re
from math import inf, isclose, pi

import pytest

from evenground.errors import InputError
from evenground.model.split import HOME
from evenground.project import parse_project, starter_text
from evenground.standards.line_wires import LINE_WIRES

FAULT = "110 kV single line to earth"
NETWORK = """
network:
  stations:
    - {name: Upper, impedance_ohm: [0.2, 0.1]}
    - {name: Lower, impedance_ohm: [1.5, 0]}
  lines:
    - name: ridge line
      voltage_kv: 110
      far_station: Upper
      span_lengths_m: [250, 300, 280]
      tower_resistances_ohm: [12, null]
      ground_wires: [{name: shield, type: al1_st1a_94_15, x_m: 0, height_m: 24}]
      phases: [{name: a, resistance_ohm_per_km: 0.12, gmr_mm: 8.9, x_m: 3, height_m: 16}]
    - {name: old line, reduction_factor: 0.7, chain_ohm: [0.8, 0.3]}
  neutrals:
    - name: village
      spans: {count: 5, length_m: 100}
      tower_resistance_ohm: 25
      given: {self_ohm_per_km: [0.59, 0.96], mutual_ohm_per_km: [0.06, 0.47]}
  cables:
    - name: town cable
      voltage_kv: 20
      far_station: Lower
      length_m: 1500
      positions_m: [[-0.1, 1], [0, 1], [0.1, 1]]
      sheath: {resistance_ohm_per_km: 0.5, radius_mm: 16}
      joints: [{distance_m: 700}]
  groups: [{name: fence, resistance_ohm: 9}]
  sources:
    - {name: Upper, station: Upper, via: ridge line, contributions: [{fault: 110 kV single line to earth, current_ka: 2, x_over_r: 6}]}
  transformers:
    - {name: T1, contributions: [{fault: 110 kV single line to earth}]}
  fault_places:
    - {fault: 110 kV single line to earth, route: town cable, stops: [2], fault_resistance_ohm: 5}
"""


def site(section=NETWORK):
    return starter_text("substation").replace("\nconductors:", section + "\nconductors:", 1)


TEXT = site()


def network(text=TEXT):
    return parse_project(text).network


def test_lengths_and_impedances_are_in_si_units():
    found = network()
    line, cable = found.lines[0], found.cables[0]
    assert line.span_lengths_m == (250.0, 300.0, 280.0)
    assert line.tower_resistances_ohm == (12.0, inf)
    assert isclose(line.ground_wires[0].resistance_ohm_per_m, 0.306e-3, rel_tol=1e-12)
    assert isclose(line.ground_wires[0].radius_m, 6.8e-3, rel_tol=1e-12)
    assert isclose(line.phases[0].gmr_m, 8.9e-3, rel_tol=1e-12)
    assert isclose(cable.sheath.resistance_ohm_per_m, 0.5e-3, rel_tol=1e-12)
    assert cable.joints[0].earth_resistance_ohm == inf
    assert abs(found.lines[2].given.ground_ohm_per_m[0][0] - complex(0.59e-3, 0.96e-3)) < 1e-15
    assert found.levels_v == {"ridge line": 110e3, "town cable": 20e3}


def test_feeders_keep_what_was_left_open():
    rows = [(f.name, f.station, f.via, c.current_a, c.x_over_r) for f, c in network().contributions(FAULT)]
    assert rows == [("Upper", "Upper", "ridge line", 2000.0, 6.0), ("T1", HOME, "", None, None)]


def test_faults_are_set_along_routes_of_their_voltage_and_at_stated_places():
    names = [p.name for p in network().fault_places(FAULT, 110e3)]
    # tower 2 has no earth of its own but its wire brings it one; the village has no voltage
    assert names == [
        "in the station", "town cable, far end through 5 ohm",
        "ridge line, tower 1", "ridge line, tower 2", "ridge line, far end",
    ]  # fmt: skip
    bare = site(NETWORK.replace("voltage_kv: 110\n      far_station", "far_station"))
    assert [p.name for p in network(bare).fault_places(FAULT, 110e3)] == names[:2]
    off = site(NETWORK.replace("network:\n", "network:\n  faults_along_routes: false\n", 1))
    assert [p.name for p in network(off).fault_places(FAULT, 110e3)] == names[:2]


def test_a_fault_without_a_stated_factor_says_so():
    stated = parse_project(TEXT).faults[0]
    assert stated.split_stated
    text = re.sub(r"    split_factor: .*\n", "", TEXT)
    assert not parse_project(text).faults[0].split_stated


def test_back_up_clearing_makes_a_scenario_and_reclosing_adds_time():
    text = TEXT.replace(
        "    shock_time_s: 0.4 ", "    reclosings: 1\n    backup_time_s: 0.9\n    shock_time_s: 0.4 "
    )
    main, late = parse_project(text).faults
    # IEEE Std 80-2013, clause 8.3 (from memory): closely spaced shocks count with their summed duration
    assert isclose(main.exposure_s, 0.8, rel_tol=1e-12)
    assert isclose(main.heating_s, 1.4, rel_tol=1e-12)
    assert (late.name, late.fault_name) == (f"{FAULT}, back-up clearing", FAULT)
    assert (late.exposure_s, late.heating_s) == (0.9, 1.0)


MISTAKES = [
    ("far_station: Upper", "far_station: Uper", "network-reference", "network.lines[0].far_station", "did you mean 'Upper'"),
    ("via: ridge line", "via: rigde line", "network-reference", "network.sources[0].via", "did you mean 'ridge line'"),
    ("via: ridge line", "via: town cable", "network-reference", "network.sources[0].via", "name the route that comes from there"),
    ("{fault: 110 kV single line to earth}", "{fault: 110 kV}", "network-reference", "network.transformers[0].contributions[0].fault", "did you mean"),
    ("type: al1_st1a_94_15", "type: al1_st1a_94_16", "wire-unknown", "network.lines[0].ground_wires[0].type", "did you mean"),
    ("gmr_mm: 8.9, ", "", "wire-size", "network.lines[0].phases[0].resistance_ohm_per_km", "give gmr_mm too"),
    ("chain_ohm: [0.8, 0.3]", "spans: {count: 3, length_m: 200}", "network-double", "network.lines[1].spans", "keep the wires, or the reduction factor"),
    ("      tower_resistance_ohm: 25\n", "", "network-missing", "network.neutrals[0]", "give tower_resistance_ohm"),
    ("[12, null]", "[12, 13, 14, 15]", "network-value", "network.lines[0]", ""),
    ("{name: fence,", "{name: station,", "network-name", "network.groups[0].name", "another name"),
    ("- {name: Lower,", "- {name: Upper,", "name-twice", "network.stations[1].name", "its own name"),
    ("name: T1, ", "name: T1, neutral: isolated, ", "neutral-isolated", "network.transformers[0].contributions", "leave contributions out"),
    ("current_ka: 2, x_over_r: 6", "x_over_r: 6", "contribution-angle", "network.sources[0].contributions[0].x_over_r", "give the current"),
    ("stops: [2]", "stops: [0]", "value-range", "network.fault_places[0].stops[0]", "at least 1"),
    ("reduction_factor: 0.7", "reduction_factor: 70", "value-range", "network.lines[1].reduction_factor", "at most 1"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "code", "field", "advice"), MISTAKES)
def test_mistakes_are_named_with_their_place(old, new, code, field, advice):
    assert old in NETWORK
    with pytest.raises(InputError, match=r".") as caught:
        parse_project(site(NETWORK.replace(old, new, 1)), "site.yaml")
    found = {(f.code, f.field): f for f in caught.value.findings}
    assert (code, field) in found, list(found)
    row = found[code, field]
    assert advice in row.advice
    assert row.line > 0
    assert row.file == "site.yaml"


@pytest.mark.parametrize("kind", ["substation", "plant"])
def test_the_commented_network_of_a_starter_is_a_valid_one(kind):
    lines = starter_text(kind).splitlines()
    first = lines.index("# network:")
    last = next(i for i in range(first, len(lines)) if not lines[i].startswith("#"))
    lines[first:last] = [line.removeprefix("# ") for line in lines[first:last]]
    found = parse_project("\n".join(lines)).network
    assert found.feeders
    assert any(found.contributions(found.feeders[0].contributions[0].fault))


@pytest.mark.parametrize("name", [k for k, w in LINE_WIRES.items() if w.aluminium_mm2])
def test_resistances_of_line_wires_follow_from_their_aluminium(name):
    """Hard-drawn aluminium of 28.264 nohm m (EN 50182, IEC 60889), 1.5 to 3 % longer in the strand; the
    steel core carries next to nothing."""
    wire = LINE_WIRES[name]
    straight = 28.264 / wire.aluminium_mm2
    assert 1.0 < wire.resistance_ohm_per_km / straight < 1.035


@pytest.mark.parametrize("name", list(LINE_WIRES))
def test_diameters_of_line_wires_leave_the_usual_gaps(name):
    """Metal fills 70 to 80 % of the circle around a strand of equal wires (7/9 for seven; geometry)."""
    wire = LINE_WIRES[name]
    fill = (wire.aluminium_mm2 + wire.steel_mm2) / (pi / 4 * wire.diameter_mm**2)
    assert 0.70 < fill < 0.80
