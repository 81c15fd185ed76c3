"""Current injection: split by phasors, scaling, bounds, impossible readings. Closed arithmetic throughout."""

from __future__ import annotations

import cmath
import math

import pytest

from evenground.model.sitetest import (
    CurrentReading,
    ExpectedPlace,
    InjectionReadings,
    Phasor,
    PlaceReading,
)
from evenground.model.study import Verdict
from evenground.sitetest import read_injection
from evenground.standards.ieee81 import scaled_voltage


def phasor(value: complex) -> Phasor:
    return Phasor(abs(value), math.degrees(cmath.phase(value)))


PATHS = (
    CurrentReading("line", phasor(2.0 + 3.0j)),
    CurrentReading("cable", phasor(1.0 - 1.0j)),
)
# the mat's part: 10 - (3 + 2j) = 7 - 2j
MAT_A = abs(7 - 2j)


def injection(**more: object) -> InjectionReadings:
    base: dict[str, object] = {
        "total_current_a": Phasor(10.0, 0.0),
        "fault_current_a": 4000.0,
        "auxiliary": PATHS,
        "remote_voltage_v": Phasor(MAT_A * 0.5),
        "places": (PlaceReading("gate", "touch", Phasor(0.4)),),
        "uncertainty": 0.02,
    }
    return InjectionReadings(**{**base, **more})  # type: ignore[arg-type]


GATE = ExpectedPlace("gate", "touch", (30.0, 0.0), 0.4 / MAT_A, 500.0)


def test_split_is_by_phasors_not_by_sizes() -> None:
    result = read_injection(injection(), [GATE])
    assert result.mat_current_a == pytest.approx(MAT_A, rel=1e-12)
    assert result.split == pytest.approx(MAT_A / 10, rel=1e-12)
    assert result.mat_impedance_ohm == pytest.approx(0.5, rel=1e-12)
    assert result.station_impedance_ohm == pytest.approx(MAT_A * 0.05, rel=1e-12)
    assert result.fault_rise_v == pytest.approx(2000.0, rel=1e-12)


def test_places_are_scaled_by_the_mats_own_current() -> None:
    place = read_injection(injection(), [GATE]).places[0]
    assert place.scaled_v == pytest.approx(0.4 * 4000 / MAT_A, rel=1e-12)
    assert place.scaled_v == pytest.approx(scaled_voltage(0.4, MAT_A, 4000.0), rel=1e-12)
    assert place.ratio == pytest.approx(1.0, rel=1e-12)
    assert place.agreement is Verdict.PASS
    assert place.verdict is Verdict.PASS


@pytest.mark.parametrize(
    ("volts", "verdict"), [(0.4, Verdict.PASS), (0.90, Verdict.NOT_DECIDED), (1.2, Verdict.FAIL)]
)
def test_three_values(volts: float, verdict: Verdict) -> None:
    # the limit of 500 V corresponds to 0.91 V
    readings = injection(places=(PlaceReading("gate", "touch", Phasor(volts)),))
    result = read_injection(readings, [GATE])
    assert result.places[0].verdict is verdict
    assert result.checks[0].verdict is verdict


def test_without_angles_only_bounds_remain() -> None:
    blind = tuple(CurrentReading(p.path, Phasor(p.current_a.magnitude)) for p in PATHS)
    result = read_injection(injection(auxiliary=blind), [GATE])
    assert result.mat_current_a is None
    assert result.mat_current_low_a is not None
    assert result.mat_current_high_a is not None
    assert result.mat_current_low_a < MAT_A < result.mat_current_high_a
    low = 10 - sum(p.current_a.magnitude for p in PATHS)
    assert result.mat_current_low_a == pytest.approx(low, abs=0.3)
    assert result.places[0].scaled_v is None
    assert "injection-no-phase" in {f.code for f in result.findings}


def test_paths_that_take_nearly_everything() -> None:
    paths = (CurrentReading("line", Phasor(9.9, 0.0)),)
    result = read_injection(injection(auxiliary=paths), [GATE])
    assert result.mat_current_low_a is None
    assert result.places[0].high_v is None
    assert result.places[0].verdict is Verdict.NOT_DECIDED
    assert "injection-split-open" in {f.code for f in result.findings}


def test_impossible_and_doubtful_readings() -> None:
    readings = injection(
        places=(
            PlaceReading("above", "touch", Phasor(9.0)),
            PlaceReading("negative", "touch", Phasor(-0.2)),
            PlaceReading("loaded", "touch", Phasor(0.4), loaded_v=0.6),
            PlaceReading("tiny", "touch", Phasor(0.0002)),
            PlaceReading("noisy", "touch", Phasor(0.02)),
        ),
        background_v=0.01,
        auxiliary=(*PATHS, CurrentReading("loop", Phasor(12.0, 90.0))),
    )
    expected = [
        ExpectedPlace(n, "touch", (0.0, 0.0), 0.05, 500.0)
        for n in ("above", "negative", "loaded", "tiny", "noisy", "skipped")
    ]
    result = read_injection(readings, expected)
    flags = {p.name: " ".join(p.flags) for p in result.places}
    assert "above the rise" in flags["above"]
    assert "impossible" in flags["negative"]
    assert "1 kohm" in flags["loaded"]
    assert "only an upper bound" in flags["tiny"]
    assert "background" in flags["noisy"]
    verdicts = {p.name: p.verdict for p in result.places}
    assert verdicts["above"] is verdicts["negative"] is verdicts["loaded"] is Verdict.NOT_DECIDED
    tiny = next(p for p in result.places if p.name == "tiny")
    assert tiny.scaled_v is None
    assert tiny.verdict is Verdict.PASS  # even the upper bound keeps the limit
    assert {"injection-path-large", "injection-unread"} <= {f.code for f in result.findings}


def test_rise_and_season() -> None:
    result = read_injection(injection(season_factor=1.5), [GATE], rise_limit_v=3500.0)
    assert result.fault_rise_v == pytest.approx(3000.0, rel=1e-12)
    assert result.checks[-1].verdict is Verdict.PASS
    assert "injection-season-source" in {f.code for f in result.findings}
    none = read_injection(injection(remote_voltage_v=None), rise_limit_v=3500.0)
    assert none.checks[-1].verdict is Verdict.NOT_DECIDED
    weak = read_injection(injection(remote_voltage_v=Phasor(1e-5)), rise_limit_v=3500.0)
    assert weak.fault_rise_v is None
    assert "injection-remote-resolution" in {f.code for f in weak.findings}


def test_no_current_no_number() -> None:
    result = read_injection(injection(total_current_a=Phasor(0.0)), [GATE])
    assert result.mat_current_a is None
    assert result.places[0].verdict is Verdict.NOT_DECIDED
    with pytest.raises(ValueError, match="finite"):
        Phasor(math.nan)
    with pytest.raises(ValueError, match=r"uncertainty: 1\.5 is out"):
        injection(uncertainty=1.5)
