"""Impulses at masts in layered soil, and the mast above its foot: limits and series circuits."""

from math import isclose, log, pi
from types import SimpleNamespace

import numpy as np
import pytest

from evenground._study_impulse import mast_tops, soils_of_piece, transient_checks
from evenground.deliver._report_lightning import _tops, _transients
from evenground.electrode import build_electrode
from evenground.errors import InputError, OutOfRangeError
from evenground.field import solve
from evenground.model.electrode import Conductor, Electrode
from evenground.model.lightning_site import MastFoot
from evenground.model.soil import LayeredSoil
from evenground.project import parse_project, starter_text
from evenground.standards.iec62305 import METALS, adiabatic_temperature_rise
from evenground.standards.impulse import mast_inductance, mast_surge_impedance

PIECE = Electrode([Conductor((0, 0, 0.6), (12, 0, 0.6), 0.006), Conductor((6, -6, 0.6), (6, 6, 0.6), 0.006)])


def test_slow_parts_see_soil_in_which_the_piece_has_its_layered_resistance():
    soil = LayeredSoil((300.0, 80.0), (2.0,))
    own, equal = soils_of_piece(PIECE, soil, 300.0)
    assert own == (", layer of the metal", 300.0)
    assert 80.0 < equal[1] < 300.0  # between the layers: the resistance is monotonic in each resistivity
    layered = solve(PIECE, soil).resistance_ohm
    assert isclose(solve(PIECE, LayeredSoil((equal[1],), ())).resistance_ohm, layered, rel_tol=1e-6)


@pytest.mark.parametrize(
    ("soil", "own"),
    [
        (LayeredSoil((300.0,), ()), 300.0),  # uniform
        (LayeredSoil((300.0, 80.0), (400.0,)), 300.0),  # top layer far thicker than the piece
        (LayeredSoil((300.0, 80.0), (0.02,)), 80.0),  # next to nothing above the layer that holds it
    ],
)
def test_where_layers_do_not_matter_there_is_one_soil(soil, own):
    assert soils_of_piece(PIECE, soil, own) == (("", own),)


def test_inductance_of_a_mast_lies_near_that_of_a_straight_wire():
    """Rosa, Bulletin of the Bureau of Standards 4 (1908): 2e-7 h (ln(2h/r) - 1) for a straight wire alone,
    skin effect complete; with the time of travel the formula for towers lies above it by 0.69e-7 h."""
    height, radius = 20.0, 0.1
    inductance = mast_inductance(mast_surge_impedance(height, radius), height)
    wire = 0.2 * height * (log(2 * height / radius) - 1)
    assert isclose(inductance - wire, 0.2 * height * log(2) / 2, rel_tol=1e-9)
    assert wire < inductance < 1.1 * wire
    with pytest.raises(OutOfRangeError, match="radius_m"):
        mast_surge_impedance(20.0, 0.0)


def result(front_us=0.8, peak_a=12e3, ohm=10.0):
    """A foot that is a plain resistance, and a current that rises in a straight line and then stays."""
    times = np.linspace(0.0, 5e-6, 5001)
    current = peak_a * np.minimum(times / (front_us * 1e-6), 1.0)
    impulse = SimpleNamespace(
        times_s=times,
        current_a=current,
        voltage_v=ohm * current,
        peak_voltage_v=ohm * peak_a,
        front_time_us=front_us,
    )
    return SimpleNamespace(impulse_names=("mast M1, stroke",), impulses=(impulse,))


def site(**foot):
    return SimpleNamespace(feet=(MastFoot("M1", (0, 0), 1, **foot),))


def test_the_top_stands_above_the_foot_by_the_voltage_of_the_inductance():
    """Series circuit: at the end of a straight front the top has R I + L I/T."""
    (top,) = mast_tops(site(height_m=20.0, radius_m=0.1), result())
    expected = 10.0 * 12e3 + 1e-6 * top.inductance_uh * 12e3 / 0.8e-6
    assert isclose(top.top_v, expected, rel_tol=2e-3)  # steps of a thousandth of the front
    assert top.foot_v == 120e3
    assert "kV" in str(_tops(SimpleNamespace(mast_tops=(top,))))


def test_a_front_too_short_for_the_mast_is_not_decided():
    (top,) = mast_tops(site(height_m=100.0, radius_m=0.3), result())
    assert top.top_v is None
    assert "travel" in top.reason
    assert "not decided" in str(_tops(SimpleNamespace(mast_tops=(top,))))


def test_without_a_radius_nothing_is_said():
    assert mast_tops(site(height_m=20.0), result()) == ()


def test_radius_and_height_reach_the_foot():
    section = """
lightning:
  protection_level: III
  masts: [{name: M1, at_m: [0, 0], height_m: 20, radius_mm: 80}]
"""
    text = starter_text("substation").replace("\nconductors:", section + "\nconductors:", 1)
    (foot,) = parse_project(text).lightning.feet
    assert (foot.height_m, foot.radius_m) == (20.0, 0.08)


SURGE = """
lightning:
  transients:
    - {name: breaker, at_m: [30, 20], amplitude_ka: 2, frequency_hz: 20000, decay_s: 0.0002, reach_m: 8,
       down_conductor_mm2: 16, watched: [{name: cubicle, at_m: [35, 20], withstand_kv: 5}]}
"""


def surge(section=SURGE):
    text = starter_text("substation").replace("\nconductors:", section + "\nconductors:", 1)
    project = parse_project(text, "site.yaml")
    radii = dict.fromkeys(project.conductors, 0.006)
    layout = build_electrode(project.mats, project.rods, project.runs, radii, project.separate)
    return project.lightning, layout.electrode


def test_a_switching_surge_is_judged_by_heating_and_by_the_insulation():
    """Calculus: the square of I exp(-t/d) sin(wt) has the integral I^2 d/4 (1 - 1/(1 + (wd)^2)); its heating
    by IEC 62305-1, D.4.1.1. The voltage is at most the inductance of 5 m at 2 uH/m, twice that of a lead
    (common practice), times the steepest rise, and above nothing."""
    checks = {c.identity: c for c in transient_checks(*surge(), LayeredSoil((100.0,), ()))}
    w, d, peak = 2 * pi * 20e3, 2e-4, 2000.0
    action = peak**2 * d / 4 * (1 - 1 / (1 + (w * d) ** 2))
    rise = adiabatic_temperature_rise(action, 16.0, *METALS["copper"])
    assert isclose(checks["duty-heating-breaker"].value, rise, rel_tol=0.02)  # steps in time
    volts = checks["duty-insulation-breaker-cubicle"]
    assert 0 < volts.value < 5 * 2e-6 * w * peak
    assert volts.verdict.value in ("pass", "fail")
    words = str(_transients(SimpleNamespace(checks=tuple(checks.values()))))
    assert "breaker" in words
    assert "cubicle" in words


def test_a_lower_withstand_voltage_fails():
    section = SURGE.replace("withstand_kv: 5", "withstand_kv: 0.0001")
    checks = transient_checks(*surge(section), LayeredSoil((100.0,), ()))
    assert any(c.identity.startswith("duty-insulation") and c.verdict.value == "fail" for c in checks)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("frequency_hz: 20000", "frequency_hz: 20", "frequency_hz"),
        ("decay_s: 0.0002", "decay_s: -1", "decay_s"),
        ("at_m: [30, 20], amp", "at: [30, 20], amp", "unknown key 'at'"),
    ],
)
def test_wrong_transients_are_refused_with_their_line(old, new, words):
    assert old in SURGE
    with pytest.raises(InputError, match=words) as caught:
        surge(SURGE.replace(old, new, 1))
    assert all(f.line > 0 for f in caught.value.findings)
