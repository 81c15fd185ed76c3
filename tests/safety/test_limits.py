"""Which standard governs where, and the comparison of all."""

import dataclasses

import pytest

from evenground.model.fault import FaultResult, FaultScenario
from evenground.model.site import Assessment, SurfaceZone
from evenground.model.study import Place, ShockResult
from evenground.project._schema_site import StandardKey
from evenground.safety import compare_standards, zone_limits
from evenground.standards.limits import STANDARDS

FAULT = FaultResult(FaultScenario("bus", 110e3, 0.5, 1.0), 3180.0, 3.33, 1.0, 1.0, 1908.0, 3180.0)
YARD = SurfaceZone("yard", None, 2500.0, 0.102)
BARE = SurfaceZone("bare")


def one(zone=YARD, **options):
    (row,) = zone_limits([zone], [FAULT], Assessment(**options), 400.0)
    return row


def test_en_50522_takes_its_published_curve_and_borrows_the_step_limit():
    """EN 50522:2010 Table B.3 and EN 50522:2022 Table B.4 at 0.5 s: 220 V and 225 V (journal page quoting
    both tables)."""
    assert one(BARE, standard="en50522_2010").touch_v == pytest.approx(220, rel=1e-9)
    row = one(BARE, standard="en50522_2022")
    assert row.touch_v == pytest.approx(225, rel=1e-9)
    assert "no step limit" in row.step_clause
    assert row.outside == ""


def test_a_zone_may_have_a_standard_of_its_own():
    zone = dataclasses.replace(BARE, standard="gb50065_effective")
    row = one(zone, standard="ieee80", body_mass_kg=70)
    assert row.standard == "gb50065_effective"
    # GB/T 50065: (174 + 0.17 rho_s C_s)/sqrt(t) (from memory)
    assert row.touch_v == pytest.approx((174 + 0.17 * 400) / 0.5**0.5, rel=1e-6)


def test_body_mass_chooses_between_the_two_limits_of_ieee_80():
    """IEEE Std 80: 0.157 / 0.116 between 70 kg and 50 kg (from memory, cross-checked)."""
    assert one(body_mass_kg=70).touch_v / one(body_mass_kg=50).touch_v == pytest.approx(
        0.157 / 0.116, rel=1e-12
    )


def test_a_duration_that_a_curve_does_not_know_is_not_decided():
    slow = dataclasses.replace(FAULT, scenario=dataclasses.replace(FAULT.scenario, shock_time_s=0.01))
    (row,) = zone_limits([BARE], [slow], Assessment(standard="en50522_2010"), 400.0)
    assert row.outside


def test_the_comparison_has_every_standard_once_per_zone_and_fault():
    shocks = [
        ShockResult("touch", "yard", "bus", 700.0, 840.0, Place(1, 1)),
        ShockResult("step", "yard", "bus", 300.0, 2700.0, Place(1, 1), 0.0),
    ]
    rows = compare_standards([YARD], shocks, [FAULT], Assessment(), 400.0)
    assert {r.standard for r in rows} == set(STANDARDS) - {"free"}
    ieee = next(r for r in rows if r.standard == "ieee80_70kg")
    assert ieee.touch_limit_v == pytest.approx(840.55, rel=1e-4)  # 838.2 with the rounded factor of the guide
    assert all(r.evidence for r in rows)


def test_the_project_file_knows_every_standard_of_the_register():
    keys = {k for k in STANDARDS if not k.startswith("ieee80_")} | {"ieee80"}
    assert set(StandardKey.__args__) == keys
