"""As built, sites without drawings, upkeep."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenground.electrode import rectangular_mat
from evenground.errors import InputError
from evenground.model.electrode import Conductor, Electrode
from evenground.model.sitetest import (
    CorrosionReading,
    GravelReading,
    KnownTests,
    PlaceResult,
    SeriesPoint,
    SiteChange,
)
from evenground.model.soil import LayeredSoil
from evenground.model.study import Verdict
from evenground.sitetest import (
    TASKS,
    compare_as_built,
    corrosion_state,
    due_tasks,
    exceeding_share,
    existing_site_envelope,
    gravel_state,
    reassessment_triggers,
    trend,
)
from evenground.standards.exact import disc_resistance
from evenground.standards.ieee81 import least_resistance

MAT = rectangular_mat(length_x_m=40, length_y_m=30, meshes_x=4, meshes_y=3, depth_m=0.6, radius_m=0.006)


def test_built_as_designed() -> None:
    delta = compare_as_built(MAT, MAT)
    assert delta.changes == ()
    assert not delta.re_run_needed
    assert compare_as_built(MAT, MAT.translated(0.2, 0.1)).changes == ()


def test_missing_added_and_deeper_metal() -> None:
    gone = [c for c in MAT if not (c.start_m[0] == c.end_m[0] == 20.0)]
    extra = Conductor((40.0, 5.0, 0.6), (52.0, 5.0, 0.6), 0.006, tag="to the gate")
    delta = compare_as_built(MAT, Electrode([*gone, extra]))
    assert delta.missing_length_m == pytest.approx(30.0, abs=4.5)  # its crossings still hold metal
    assert delta.added_length_m == pytest.approx(12.0, abs=1.0)
    assert {c.kind for c in delta.changes} == {"missing", "added"}
    assert any(c.conductor == "to the gate" for c in delta.changes)
    assert delta.re_run_needed
    deep = compare_as_built(MAT, MAT.translated(0.0, 0.0, 0.3))
    assert deep.missing_length_m == 0.0
    assert {c.kind for c in deep.changes} == {"moved"}
    assert deep.changes[0].depth_difference_m == pytest.approx(0.3, abs=1e-9)
    assert deep.re_run_needed
    with pytest.raises(InputError, match="at least one conductor"):
        compare_as_built(MAT, Electrode())


def test_a_shorter_rod_is_seen() -> None:
    long = Electrode([Conductor((0, 0, 0.6), (0, 0, 3.6), 0.008, kind="rod")])
    short = Electrode([Conductor((0, 0, 0.6), (0, 0, 2.1), 0.008, kind="rod")])
    assert compare_as_built(MAT + long, MAT + short).missing_length_m == pytest.approx(1.5, abs=0.7)


@pytest.mark.parametrize(("radius", "depth"), [(50.0, 0.5), (50.0, 5.0), (20.0, 0.6), (10.0, 10.0)])
def test_least_resistance_is_a_bound(radius: float, depth: float) -> None:
    """It lies below a disc of that radius, below a hemisphere in it, and not far below both."""
    value = least_resistance(100.0, radius, depth)
    disc = disc_resistance(100.0, radius)
    inside = 100.0 / (2 * math.pi * min(radius, depth))
    assert value < disc
    assert value < inside
    assert value > 100.0 / (2 * math.pi * math.sqrt(2) * radius) * 0.999  # hemisphere that holds the cylinder
    if depth < 0.02 * radius:
        assert value > 0.93 * disc


def test_least_resistance_holds_for_a_dense_mat() -> None:
    """70 m x 70 m in 400 ohm m with rods: 2.75 ohm (IEEE Std 80-2000, B.2)."""
    assert least_resistance(400.0, 70.0 / math.sqrt(2), 8.0) < 2.75


def place(name: str, low: float | None, high: float | None) -> PlaceResult:
    return PlaceResult(
        name, "touch", None, low, high, None, None, Verdict.NOT_DECIDED, Verdict.NOT_DECIDED, None
    )


def known(**more: object) -> KnownTests:
    base: dict[str, object] = {
        "resistance_ohm": 0.8,
        "resistance_uncertainty": 0.1,
        "fault_current_a": 1000.0,
        "fault_current_upper_a": 1500.0,
        "paths_excluded": True,
    }
    return KnownTests(**{**base, **more})  # type: ignore[arg-type]


def test_rise_and_touch_from_resistance_alone() -> None:
    result = existing_site_envelope(known(limit_v=1500.0))
    assert result.rise_low_v == pytest.approx(720.0)
    assert result.rise_high_v == pytest.approx(1320.0)
    assert result.checks[0].verdict is Verdict.PASS
    assert existing_site_envelope(known(limit_v=600.0)).checks[0].verdict is Verdict.NOT_DECIDED
    assert existing_site_envelope(known()).checks[0].verdict is Verdict.NOT_DECIDED


def test_a_pass_needs_the_other_paths_excluded() -> None:
    result = existing_site_envelope(known(limit_v=1500.0, paths_excluded=False))
    assert result.checks[0].verdict is Verdict.NOT_DECIDED
    assert "other paths" in result.checks[0].reason


def test_a_place_above_the_limit_fails_the_site() -> None:
    result = existing_site_envelope(known(limit_v=600.0, places=(place("gate", 650.0, 800.0),)))
    assert result.checks[0].verdict is Verdict.FAIL


def test_hidden_paths_are_found() -> None:
    soil = LayeredSoil((100.0, 300.0), (4.0,))
    # a disc of 20 m in 100 ohm m has 1.25 ohm; nothing within it reads 0.2
    result = existing_site_envelope(
        known(resistance_ohm=0.2, limit_v=1500.0, soil=soil, radius_m=20.0, depth_m=3.0)
    )
    assert result.checks[0].verdict is Verdict.NOT_DECIDED
    assert result.checks[1].verdict is Verdict.FAIL
    fair = existing_site_envelope(known(resistance_ohm=2.0, soil=soil, radius_m=20.0, depth_m=3.0))
    assert fair.checks[1].verdict is Verdict.PASS


def test_random_places() -> None:
    # 59 places at random say 95 % with 95 % confidence (Wilks 1941)
    assert exceeding_share(59) == pytest.approx(0.05, abs=5e-4)
    places = tuple(place(f"p{k}", 50.0, 100.0) for k in range(59))
    drawn = existing_site_envelope(known(places=places, places_random=True))
    assert drawn.exceed_share_upper == pytest.approx(0.05, abs=5e-4)
    assert existing_site_envelope(known(places=places)).exceed_share_upper is None
    with pytest.raises(InputError, match="at least one place"):
        exceeding_share(0)


def test_share_by_simulation() -> None:
    rng = np.random.default_rng(7)
    largest = rng.random((20_000, 30)).max(axis=1)  # uniform on 0 to 1: the share above it is 1 - largest
    assert np.mean(1 - largest <= exceeding_share(30)) == pytest.approx(0.95, abs=0.006)


def test_risers_of_an_old_site() -> None:
    result = existing_site_envelope(known(risers_tested=10, risers_connected=8))
    check = next(c for c in result.checks if c.identity == "envelope-risers")
    assert (check.value, check.verdict) == (2.0, Verdict.FAIL)
    with pytest.raises(InputError, match="resistance_ohm: -1") as caught:
        existing_site_envelope(known(resistance_ohm=-1.0, fault_current_upper_a=10.0))
    assert len(caught.value.findings) == 2


def test_due_dates() -> None:
    rows = {t.name: t for t in due_tasks({"resistance": "2020-03-01", "gravel": "2026-01-10"}, "2026-05-04")}
    assert rows["resistance"].due == "2025-03-01"
    assert rows["resistance"].overdue is True
    assert rows["gravel"].overdue is False
    assert rows["excavation"].overdue is True
    assert len(rows) == len(TASKS)
    with pytest.raises(InputError, match="not a date"):
        due_tasks({"gravel": "May"}, "2026-05-04")
    with pytest.raises(InputError, match="not in the list"):
        due_tasks({"painting": "2026-01-01"}, "2026-05-04")


def test_trend_against_a_statistics_library() -> None:
    from scipy.stats import linregress, t

    years = [2010.0, 2013.0, 2016.0, 2019.0, 2022.0]
    values = [0.80, 0.83, 0.84, 0.88, 0.91]
    result = trend([SeriesPoint(y, v) for y, v in zip(years, values, strict=True)], 1.0)
    fit = linregress(years, values)
    assert result.slope_per_year == pytest.approx(fit.slope, rel=1e-9)
    assert result.slope_uncertainty == pytest.approx(fit.stderr * t.ppf(0.95, 3), rel=1e-9)
    crossing = (1.0 - fit.intercept) / fit.slope
    assert result.crossing_year == pytest.approx(crossing, abs=0.06)  # steps of 0.05 years
    assert result.crossing_early is not None
    assert result.crossing_early < crossing
    assert result.change_from_first == pytest.approx(0.1375)
    assert result.verdict is Verdict.PASS


def test_trend_of_few_or_falling_values() -> None:
    two = trend([SeriesPoint(2020, 0.8), SeriesPoint(2025, 1.2)], 1.0)
    assert two.slope_per_year is None
    assert two.verdict is Verdict.FAIL
    thin = [SeriesPoint(2015, 5.0), SeriesPoint(2020, 4.5), SeriesPoint(2025, 4.1)]
    falling = trend(thin, 3.0, sense="min")
    assert falling.slope_per_year == pytest.approx(-0.09, abs=0.001)
    assert falling.crossing_year == pytest.approx(2037.0, abs=1.0)
    with pytest.raises(InputError, match="neither max nor min"):
        trend(thin, 3.0, sense="up")
    with pytest.raises(InputError, match="finite values"):
        trend([], 1.0)


def test_corrosion() -> None:
    common = {
        "installed_year": 2000.0,
        "installed_thickness_mm": 6.0,
        "needed_thickness_mm": 3.0,
        "life_years": 40.0,
    }
    slow = corrosion_state(
        [CorrosionReading(2020, "pit 1", 5.0), CorrosionReading(2020, "pit 2", 5.4)], **common
    )
    assert slow.value == pytest.approx(6.0 - 0.05 * 40)
    assert slow.verdict is Verdict.PASS
    fast = corrosion_state([CorrosionReading(2020, "pit 1", 4.0)], **common)
    assert fast.verdict is Verdict.FAIL
    assert "2030" in fast.reason
    assert corrosion_state([], **common).verdict is Verdict.NOT_DECIDED
    thin = corrosion_state([CorrosionReading(2020, "pit 1", 2.0)], **common)
    assert "already too thin" in thin.reason
    with pytest.raises(InputError, match="before installation"):
        corrosion_state([CorrosionReading(1990, "pit 1", 2.0)], **common)


def test_gravel() -> None:
    samples = [
        GravelReading("N", 0.11, 4200.0),
        GravelReading("S", 0.08, None, fouled=True),
        GravelReading("E", 0.10, 2500.0),
    ]
    thickness, resistivity = gravel_state(samples, design_thickness_m=0.10, design_resistivity_ohm_m=3000.0)
    assert (thickness.value, thickness.verdict) == (0.08, Verdict.FAIL)
    assert (resistivity.value, resistivity.verdict) == (2500.0, Verdict.FAIL)
    assert "1 samples not tested" in resistivity.reason
    assert "fines at S" in thickness.reason
    empty = gravel_state([], design_thickness_m=0.10, design_resistivity_ohm_m=3000.0)
    assert {c.verdict for c in empty} == {Verdict.NOT_DECIDED}


def test_triggers() -> None:
    change = SiteChange(
        design={"fault_current_a": 5000.0, "mat_resistance_ohm": 0.8, "fence": "inside", "split_factor": 0.5},
        now={"fault_current_a": 5200.0, "mat_resistance_ohm": 0.9, "fence": "outside", "surface": "gravel"},
    )
    codes = {f.code for f in reassessment_triggers(change)}
    # 12.5 % more resistance is below the 20 % of IS 3043
    assert codes == {
        "trigger-fault-current-a",
        "trigger-fence",
        "trigger-split-factor-open",
        "trigger-surface-open",
    }
    with pytest.raises(InputError, match="must be a number"):
        reassessment_triggers(SiteChange({"fault_current_a": "big"}, {"fault_current_a": 5.0}))
