"""The fault stage: published examples through the door, refusals, remarks, laws."""

from __future__ import annotations

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenground.errors import InputError
from evenground.fault import fault_currents
from evenground.model.fault import FaultResult, FaultScenario, SequenceImpedances
from evenground.provenance import recording

Z1, Z0 = 4.0 + 10.0j, 10.0 + 40.0j
STATED = FaultScenario("yard", 110e3, 0.5, 1.0, current_a=5200.0, x_over_r=9.0, path=("faults", 0))
SEQUENCE = FaultScenario("line", 115e3, 0.5, 0.5, sequence=SequenceImpedances(Z1, Z1, Z0), path=("faults", 1))


def run(scenario: FaultScenario, **change: object) -> FaultResult:
    return fault_currents(dataclasses.replace(scenario, **change), frequency_hz=60.0)  # type: ignore[arg-type]


def test_annex_b_of_ieee_80() -> None:
    # IEEE Std 80-2000, Annex B: 3180 A, X/R 3.33, I_G = 0.6 x 3180 = 1908 A with D_f = 1.0.
    result = run(SEQUENCE, split_factor=0.6, split_source="example", decrement=False, decrement_thermal=False)
    assert result.earth_fault_current_a == pytest.approx(3180.0, abs=0.5)
    assert result.x_over_r == pytest.approx(3.33, abs=5e-3)
    assert result.grid_current_a == pytest.approx(1908.0, abs=0.3)
    assert result.thermal_current_a == pytest.approx(3180.0, abs=0.5)


def test_shock_and_thermal_time_have_their_own_decrement() -> None:
    # IEEE Std 80-2000, Table 10, 60 Hz, X/R 20: 1.052 at 0.5 s, 1.026 at 1 s.
    result = run(STATED, x_over_r=20.0)
    assert result.decrement_shock == pytest.approx(1.052, abs=6e-4)
    assert result.decrement_thermal == pytest.approx(1.026, abs=6e-4)
    assert result.grid_current_a == pytest.approx(5200.0 * 1.052, rel=6e-4)
    assert result.thermal_current_a == pytest.approx(5200.0 * 1.026, rel=6e-4)


def test_growth_and_split() -> None:
    plain = run(STATED)
    grown = run(STATED, growth_factor=1.1, split_factor=0.6, split_source="study of lines")
    assert grown.earth_fault_current_a == pytest.approx(5720.0, rel=1e-12)
    assert grown.grid_current_a == pytest.approx(0.66 * plain.grid_current_a, rel=1e-12)
    # What heats a connection is never divided.
    assert grown.thermal_current_a == pytest.approx(1.1 * plain.thermal_current_a, rel=1e-12)


def test_double_line_by_symmetrical_components() -> None:
    # Independent: phase currents of a source behind the sequence impedances, lines b and c earthed, solved
    # as a 3 x 3 system with the phase impedance matrix.
    import numpy as np

    a = np.exp(2j * np.pi / 3)
    fortescue = np.array([[1, 1, 1], [1, a**2, a], [1, a, a**2]])
    phase = fortescue @ np.diag([Z0, Z1, Z1]) @ np.linalg.inv(fortescue)
    source = 115e3 / math.sqrt(3) * np.array([1, a**2, a])
    currents = np.linalg.solve(phase[1:, 1:], source[1:])  # line a open
    result = run(SEQUENCE, kind="double")
    assert result.earth_fault_current_a == pytest.approx(abs(currents.sum()), rel=1e-9)


def test_single_line_by_phase_quantities() -> None:
    import numpy as np

    a = np.exp(2j * np.pi / 3)
    fortescue = np.array([[1, 1, 1], [1, a**2, a], [1, a, a**2]])
    phase = fortescue @ np.diag([Z0, Z1, Z1]) @ np.linalg.inv(fortescue)
    current = 115e3 / math.sqrt(3) / phase[0, 0]
    result = run(SEQUENCE)
    assert result.earth_fault_current_a == pytest.approx(abs(current), rel=1e-9)
    assert result.x_over_r == pytest.approx(phase[0, 0].imag / phase[0, 0].real, rel=1e-9)


def test_voltage_factor_and_fault_resistance() -> None:
    result = run(SEQUENCE, voltage_factor=1.1)
    assert result.earth_fault_current_a == pytest.approx(1.1 * run(SEQUENCE).earth_fault_current_a, rel=1e-12)
    soft = run(SEQUENCE, sequence=SequenceImpedances(Z1, Z1, Z0, fault_resistance_ohm=5.0))
    expected = math.sqrt(3) * 115e3 / abs(2 * Z1 + Z0 + 15.0)
    assert soft.earth_fault_current_a == pytest.approx(expected, rel=1e-12)
    assert any("fault resistance" in w for w in soft.warnings)


def test_warns_when_two_lines_drive_more() -> None:
    # Z0 below Z1: the double fault drives more current to earth.
    strong = SequenceImpedances(0.1 + 1.1j, 0.1 + 1.1j, 0.05 + 0.5j)
    assert any("two lines to earth drives more" in w for w in run(SEQUENCE, sequence=strong).warnings)
    assert not any("drives more" in w for w in run(SEQUENCE, sequence=strong, kind="double").warnings)
    assert any("one line to earth drives more" in w for w in run(SEQUENCE, kind="double").warnings)


def test_unknown_x_over_r_is_said_and_not_guessed() -> None:
    result = run(STATED, x_over_r=None)
    assert result.x_over_r is None
    assert (result.decrement_shock, result.decrement_thermal) == (1.0, 1.0)
    assert any("X/R is not known" in w for w in result.warnings)


def test_decrement_left_out_on_purpose_is_said() -> None:
    result = run(STATED, decrement=False)
    assert result.decrement_shock == 1.0
    assert result.decrement_thermal > 1.0
    assert any("left out" in w and "shock" in w for w in result.warnings)


def test_other_remarks() -> None:
    result = run(STATED, thermal_time_s=0.2, split_factor=0.5)
    assert any("shorter than the shock time" in w for w in result.warnings)
    assert any("no stated source" in w for w in result.warnings)
    assert any("whole earth-fault current" in n for n in run(STATED).notes)
    both = run(STATED, sequence=SequenceImpedances(Z1, Z1, Z0), x_over_r=None)
    assert both.earth_fault_current_a == 5200.0
    assert both.x_over_r == pytest.approx(10.0 / 3.0, rel=1e-12)
    assert any("stated current is used" in n for n in both.notes)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"current_a": None}, "faults[0].current_ka"),
        ({"current_a": -1.0}, "faults[0].current_ka"),
        ({"current_a": math.nan}, "faults[0].current_ka"),
        ({"kind": "triple"}, "faults[0].kind"),
        ({"shock_time_s": 0.0}, "faults[0].shock_time_s"),
        ({"thermal_time_s": math.inf}, "faults[0].thermal_time_s"),
        ({"growth_factor": 0.9}, "faults[0].growth_factor"),
        ({"split_factor": 1.2}, "faults[0].split_factor"),
        ({"split_factor": 0.0}, "faults[0].split_factor"),
        ({"split_factor": math.nan}, "faults[0].split_factor"),
        ({"x_over_r": -3.0}, "faults[0].x_over_r"),
        ({"voltage_v": 0.0}, "faults[0].voltage_kv"),
        ({"sequence": SequenceImpedances(-1 + 1j, 1j, 1j)}, "faults[0].sequence.z1_ohm"),
        (
            {"sequence": SequenceImpedances(1 + 1j, 1 + 1j, 1j, -2.0)},
            "faults[0].sequence.fault_resistance_ohm",
        ),
    ],
)
def test_bad_input_is_refused_with_its_field(change: dict[str, object], field: str) -> None:
    with pytest.raises(InputError, match="yard") as caught:
        run(STATED, **change)
    assert [f.field for f in caught.value.findings] == [field]


def test_all_findings_come_at_once() -> None:
    with pytest.raises(InputError, match="growth_factor") as caught:
        run(STATED, growth_factor=0.5, split_factor=2.0, kind="?")
    assert len(caught.value.findings) == 3


@pytest.mark.parametrize("frequency_hz", [0.0, -50.0, math.nan])
def test_bad_frequency(frequency_hz: float) -> None:
    with pytest.raises(InputError, match="frequency"):
        fault_currents(STATED, frequency_hz=frequency_hz)


def test_a_loop_without_resistance_or_impedance_is_refused() -> None:
    with pytest.raises(InputError, match="X/R is not defined"):
        run(SEQUENCE, sequence=SequenceImpedances(1j, 1j, 1j))
    with pytest.raises(InputError, match="fault impedance"):
        run(SEQUENCE, sequence=SequenceImpedances(0j, 0j, 0j))


def test_the_steps_are_recorded() -> None:
    with recording("fault") as sheet:
        run(SEQUENCE)
    assert {"3I_0", "X/R", "T_a", "D_f", "I_G"} <= {step.info.symbol for step in sheet.steps}


@given(
    x_over_r=st.floats(0.1, 100.0),
    shock=st.floats(0.03, 3.0),
    longer=st.floats(1.0, 10.0),
    frequency=st.floats(16.0, 60.0),
)
def test_decrement_laws(x_over_r: float, shock: float, longer: float, frequency: float) -> None:
    scenario = dataclasses.replace(
        STATED, x_over_r=x_over_r, shock_time_s=shock, thermal_time_s=shock * longer
    )
    result = fault_currents(scenario, frequency_hz=frequency)
    # Between no offset and a full offset that never decays; less for a longer fault.
    assert 1.0 <= result.decrement_thermal <= result.decrement_shock <= math.sqrt(3.0)
