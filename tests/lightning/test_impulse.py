"""Impulse response: current shapes, transform, published impedances, ionisation.

Impulse impedances: a separately written hybrid solution (constant soil, relative permittivity 10); its coarse
elements carry 5 %. Waves: Rachidi et al. (2001), from memory, their peaks recalculated.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenground.electrode import rectangular_mat
from evenground.errors import InputError
from evenground.lightning import (
    FIRST_STROKE,
    SUBSEQUENT_STROKE,
    check_duty,
    current_at,
    effective_size,
    iec_first_stroke,
    impulse_response,
    ionised_resistance,
)
from evenground.lightning._time import respond, time_grid
from evenground.model.electrode import Conductor, Electrode
from evenground.model.lightning import (
    CurrentWave,
    FrequencySoil,
    HeidlerTerm,
    HeidlerWave,
    ImpulseRequest,
    ImpulseResult,
    MeasuredWave,
    OscillationWave,
)
from evenground.model.study import Verdict
from evenground.standards.impulse import (
    grcev_effective_length,
    heidler_current,
    ionised_hemisphere_resistance,
)


def wire(length: float) -> Electrode:
    return Electrode([Conductor((0, 0, 0.5), (length, 0, 0.5), 0.007)])


def strike(length: float, rho: float, wave: CurrentWave, **more: object) -> ImpulseResult:
    soil = FrequencySoil(rho, 10, "none")
    return impulse_response(ImpulseRequest(wire(length), (0, 0, 0.5), soil, wave, **more))  # type: ignore[arg-type]


def test_peaks_of_the_waves() -> None:
    times = np.linspace(0, 200e-6, 200_001)
    assert current_at(FIRST_STROKE, times).max() == pytest.approx(29.77e3, abs=6)
    assert current_at(SUBSEQUENT_STROKE, times).max() == pytest.approx(12.09e3, abs=6)


def test_iec_first_stroke_has_its_front() -> None:
    from evenground.lightning._waves import front_time_us

    times = np.linspace(0, 600e-6, 60_001)
    current = current_at(iec_first_stroke(200e3), times)
    assert current.max() == pytest.approx(200e3, rel=0.01)
    assert front_time_us(times, current) == pytest.approx(10.0, rel=0.02)  # 10/350 us


def test_array_and_formula_agree() -> None:
    wave = HeidlerWave("one", (HeidlerTerm(10e3, 1e-6, 50e-6, 5.0),))
    value = current_at(wave, np.array([3e-6]))[0]
    assert value == pytest.approx(heidler_current(3e-6, 10e3, 1e-6, 50e-6, 5.0), rel=1e-12)


def test_transform_against_a_differential_equation() -> None:
    """Resistor and capacitor in parallel: the answer of a general ODE solver."""
    from scipy.signal import lsim

    resistance, constant = 20.0, 3e-6
    grid = time_grid(FIRST_STROKE, 10)
    response = resistance / (1 + 2j * math.pi * grid.frequencies_hz * constant)
    value = respond(grid, response, resistance)
    times = grid.times_s[:6000]
    _, expected, _ = lsim(([resistance], [constant, 1.0]), grid.current_a[:6000], times)
    # cubic between ten frequencies a decade, and the fade above the last
    assert np.max(np.abs(value[:6000] - expected)) < 2e-3 * expected.max()


def test_pure_resistance_passes_the_current_unchanged() -> None:
    grid = time_grid(SUBSEQUENT_STROKE)
    value = respond(grid, np.full(len(grid.frequencies_hz), 7.0 + 0j), 7.0)
    # the fade above the last frequency takes a little of the front
    assert np.max(np.abs(value - 7.0 * grid.current_a)) < 2e-3 * 7.0 * grid.current_a.max()


WIRES = [
    (100, SUBSEQUENT_STROKE, ((5, 24.48, 23.2), (10, 14.29, 17.25), (20, 8.205, 17.24), (40, 4.643, 17.23))),
    (1000, SUBSEQUENT_STROKE, ((20, 82.05, 77.7), (40, 46.43, 65.3), (60, 33.09, 65.3))),
    (100, FIRST_STROKE, ((20, 8.205, 7.85), (40, 4.643, 7.135), (60, 3.309, 7.133))),
    (1000, FIRST_STROKE, ((40, 46.43, 45.2), (60, 33.09, 31.9))),
]


@pytest.mark.parametrize(("rho", "wave", "rows"), WIRES)
def test_wires(rho: float, wave: CurrentWave, rows: tuple[tuple[float, float, float], ...]) -> None:
    results = [strike(length, rho, wave) for length, _, _ in rows]
    for result, (_, resistance, impedance) in zip(results, rows, strict=True):
        assert result.resistance_ohm == pytest.approx(resistance, rel=0.01)
        assert result.impulse_impedance_ohm == pytest.approx(impedance, rel=0.02)
    if rho == 100 and wave is SUBSEQUENT_STROKE:
        size = effective_size(
            [r[0] for r in rows],
            [r.resistance_ohm for r in results],
            [r.impulse_impedance_ohm for r in results],
        )
        assert size.effective_m is not None
        # Grcev's formula is known to be right within about a quarter
        assert size.effective_m == pytest.approx(grcev_effective_length(100, 0.8), rel=0.25)
        assert results[0].peak_time_us == pytest.approx(0.8, rel=0.06)  # the front that formula goes with


@pytest.mark.parametrize(
    ("rho", "wave", "side", "centre", "corner"),
    [
        (100, SUBSEQUENT_STROKE, 10, 4.73, 8.99),
        (1000, SUBSEQUENT_STROKE, 20, 22.2, 31.1),
        (100, FIRST_STROKE, 20, 2.22, 3.41),
    ],
)
def test_mats(rho: float, wave: CurrentWave, side: float, centre: float, corner: float) -> None:
    mat = rectangular_mat(
        length_x_m=side, length_y_m=side, meshes_x=2, meshes_y=2, depth_m=0.5, radius_m=0.007
    )
    soil = FrequencySoil(rho, 10, "none")
    for place, expected in (((side / 2, side / 2, 0.5), centre), ((0, 0, 0.5), corner)):
        result = impulse_response(ImpulseRequest(mat, place, soil, wave, per_decade=5))
        assert result.impulse_impedance_ohm == pytest.approx(expected, rel=0.05)


@pytest.mark.slow
def test_a_larger_mat_helps_no_more() -> None:
    soil = FrequencySoil(1000, 10, "none")
    mat = rectangular_mat(length_x_m=40, length_y_m=40, meshes_x=4, meshes_y=4, depth_m=0.5, radius_m=0.007)
    centre = impulse_response(ImpulseRequest(mat, (20, 20, 0.5), soil, SUBSEQUENT_STROKE, per_decade=5))
    corner = impulse_response(ImpulseRequest(mat, (0, 0, 0.5), soil, SUBSEQUENT_STROKE, per_decade=5))
    assert centre.impulse_impedance_ohm == pytest.approx(15.6, rel=0.05)
    assert corner.impulse_impedance_ohm == pytest.approx(30.9, rel=0.05)  # as with 20 and with 80 m


def test_dispersion_lowers_the_voltage_in_poor_soil() -> None:
    """Alipio and Visacro: lower potential rise, the more so the poorer the soil."""
    drops = []
    for rho in (300.0, 3000.0):
        plain = strike(20, rho, SUBSEQUENT_STROKE).peak_voltage_v
        soil = FrequencySoil(rho, dispersion="cigre 781")
        real = impulse_response(ImpulseRequest(wire(20), (0, 0, 0.5), soil, SUBSEQUENT_STROKE)).peak_voltage_v
        drops.append(1 - real / plain)
    assert 0.0 < drops[0] < drops[1]


def test_watched_places() -> None:
    result = strike(
        40, 300, SUBSEQUENT_STROKE, watch_m=(("far end", (40, 0, 0.5)), ("soil", (5.0, 3.0, 0.0)))
    )
    assert result.watch_peak_v["far end"] < 0.6 * result.peak_voltage_v
    assert result.watch_peak_v["soil"] < result.peak_voltage_v
    assert result.watch_difference_v["far end"] <= result.peak_voltage_v * 1.0001
    assert result.times_s.shape == result.voltage_v.shape == result.watch_v["soil"].shape
    assert {p.name for p in result.published} >= {"effective length of a wire fed at its end"}


def test_a_sine_meets_the_impedance_at_its_frequency() -> None:
    wave = OscillationWave("re-strike", 100.0, 1e5, 4e-4)
    result = strike(20, 100, wave, per_decade=12)
    from scipy.interpolate import interp1d

    at = np.exp(
        interp1d(np.log(result.frequencies_hz), np.log(np.abs(result.impedance_ohm)), "cubic")(math.log(1e5))
    )
    later = (result.times_s > 5e-5) & (result.times_s < 1.5e-4)
    ratio = np.max(np.abs(result.voltage_v[later])) / np.max(np.abs(result.current_a[later]))
    assert ratio == pytest.approx(float(at), rel=0.02)  # the decay widens the line


def test_measured_wave_equals_the_formula_it_was_sampled_from() -> None:
    times = np.concatenate([np.linspace(0, 10e-6, 401), np.linspace(10.5e-6, 300e-6, 400)])
    sampled = MeasuredWave("record", tuple(times), tuple(current_at(FIRST_STROKE, times)))
    record, exact = strike(20, 300, sampled), strike(20, 300, FIRST_STROKE)
    assert record.peak_voltage_v == pytest.approx(exact.peak_voltage_v, rel=0.01)  # linear between samples


def test_ionisation_lowers_the_voltage_and_only_that() -> None:
    rod = Electrode([Conductor((0, 0, 0), (0, 0, 3), 0.008)])
    soil = FrequencySoil(300, 10, "none")
    plain = impulse_response(ImpulseRequest(rod, (0, 0, 0), soil, FIRST_STROKE))
    lit = impulse_response(ImpulseRequest(rod, (0, 0, 0), soil, FIRST_STROKE, ionisation_v_per_m=300e3))
    assert plain.peak_gradient_v_per_m > 300e3
    assert lit.peak_voltage_v < 0.6 * plain.peak_voltage_v
    assert lit.ionised_radius_m is not None
    assert lit.resistance_ohm == plain.resistance_ohm


def test_ionised_resistance_between_its_limits() -> None:
    rod = [Conductor((0, 0, 0), (0, 0, 3), 0.0125)]
    assert ionised_resistance(rod, 100, 1.0) == pytest.approx(30.86, rel=0.01)
    values = [ionised_resistance(rod, 100, i) for i in (1e3, 10e3, 30e3, 100e3)]
    assert values == sorted(values, reverse=True)
    # 3 m rod of 36 ohm falls to 6 ohm at 100 kA (Grigsby, Power Systems); 25 % for the cylinder's cap
    thin = [Conductor((0, 0, 0), (0, 0, 3), 0.008)]
    scale = 36.0 / ionised_resistance(thin, 100, 1.0)
    assert ionised_resistance(thin, 100 * scale, 100e3) == pytest.approx(6.0, rel=0.25)
    # and no less than a hemisphere that holds the ionised soil and the rod
    assert ionised_resistance(rod, 100, 100e3) > 0.5 * ionised_hemisphere_resistance(100, 100e3)


def test_energy_and_charge() -> None:
    result = strike(5, 100, iec_first_stroke(100e3))
    # IEC 62305-1, Table 3: a first stroke of 100 kA carries 50 C and 2.5 MJ/ohm (from memory)
    assert result.charge_c == pytest.approx(50.0, rel=0.06)
    assert result.action_a2s == pytest.approx(2.5e6, rel=0.06)


def test_duty() -> None:
    result = strike(40, 300, SUBSEQUENT_STROKE, watch_m=(("relay house", (40, 0, 0.5)),))
    limits = {"relay house": 5e3}
    checks = {c.identity: c for c in check_duty(result, withstand_v=limits, down_conductor_mm2=50.0)}
    assert checks["duty-insulation-transient-relay house"].verdict is Verdict.FAIL
    assert checks["duty-heating-transient"].verdict is Verdict.PASS
    assert checks["duty-field-transient"].value == result.peak_gradient_v_per_m
    with pytest.raises(KeyError, match="elsewhere"):
        check_duty(result, withstand_v={"elsewhere": 5e3})


def test_bad_places_are_refused() -> None:
    loose = Electrode([*wire(10), Conductor((0, 9, 0.5), (10, 9, 0.5), 0.007)])
    request = ImpulseRequest(loose, (3.2, 5.0, 0.5), FrequencySoil(100), FIRST_STROKE)
    with pytest.raises(InputError, match="away") as caught:
        impulse_response(request)
    assert {f.code for f in caught.value.findings} == {"impulse-off-metal", "impulse-not-bonded"}


def test_injection_between_nodes_cuts_the_wire_there() -> None:
    """Fed in its middle, a wire is two of half its length, little coupled to each other."""
    soil = FrequencySoil(100, 10, "none")
    end = strike(30, 100, SUBSEQUENT_STROKE)
    middle = impulse_response(ImpulseRequest(wire(60), (30.0, 0, 0.5), soil, SUBSEQUENT_STROKE))
    assert middle.impulse_impedance_ohm == pytest.approx(0.5 * end.impulse_impedance_ohm, rel=0.15)


def test_effective_size_needs_saturation() -> None:
    size = effective_size([5, 10, 20], [20, 10, 5], [20, 14, 12])
    assert size.effective_m is None
    assert "still falls" in size.reason
    with pytest.raises(ValueError, match="three rising"):
        effective_size([5, 5, 20], [20, 10, 5], [20, 14, 12])
