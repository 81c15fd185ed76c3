"""The second solution of fences and services: judged like the first; its voltages in contours and risk."""

import dataclasses

import numpy as np
import pytest

from evenground import _study_surroundings as around
from evenground.field import solve_groups
from evenground.model.conductor import ConductorRequest
from evenground.model.electrode import Conductor, Electrode
from evenground.model.fault import FaultScenario
from evenground.model.installation import Fence, Gate, Installation, Posts
from evenground.model.person import Exposure
from evenground.model.project import Identity, Project
from evenground.model.services import Service
from evenground.model.site import Assessment, MatLayout, SurfaceZone
from evenground.model.soil import LayeredSoil, SoilChoice
from evenground.model.study import Verdict
from evenground.study import run_study

SOIL = LayeredSoil((100.0,))
MAT = ((0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0))
YARD = ((-30.0, -30.0), (50.0, -30.0), (50.0, 50.0), (-30.0, 50.0))
FENCE = Fence(((25.0, 0.0), (25.0, 20.0)), "side", bonding="separate", posts=Posts(2.5, 0.6, 0.06))
FAR = Service(
    "sheath",
    "cable sheath",
    "bonded",
    remote_rods_m=((300.0, 10.0),),
    remote_rod_length_m=3.0,
    impedance_ohm=0.1 + 0j,
)
BARE = Service("old pipe", "pipe", "bonded")


def project(exposure=None, fences=(FENCE,), services=(), gates=(), **changes):
    made = Project(
        identity=Identity("judged"),
        frequency_hz=50.0,
        traverses=(),
        soil_choice=SoilChoice(select="given", given=SOIL),
        faults=(
            FaultScenario("bus", 110e3, 0.5, 1.0, current_a=300.0, decrement=False, split_source="test"),
        ),
        conductors={"mat": ConductorRequest("mat", "copper_hard_drawn", diameter_mm=10.0)},
        mats=(MatLayout("m", MAT, 10.0, 10.0, 0.5),),
        assessment=Assessment(raster_m=2.0, exposure=exposure),
        surface=(SurfaceZone("yard", YARD, 3000.0, 0.1),),
        installation=Installation(
            fences=tuple(fences), services=tuple(services), gates=tuple(gates), stated=("fences",)
        ),
    )
    return dataclasses.replace(made, **changes)


EXPOSURE = Exposure(contacts_per_year=50.0, contact_duration_s=4.0, faults_per_year=0.1, people=2)


@pytest.fixture(scope="module")
def studied():
    return run_study(project(EXPOSURE, services=(FAR, BARE)))


def test_contours_have_a_line_round_a_far_electrode(studied):
    """A rod at the mat's potential less the drop in its lead: its own field in a solution made here."""
    rows = [c for c in studied.surroundings.boundary.contours if c.around == "sheath"]
    metal = Electrode(
        [dataclasses.replace(c, group="mat") for c in studied.electrode]
        + [Conductor((300.0, 10.0, 0.0), (300.0, 10.0, 3.0), 0.008, group="rod")]
    )
    groups = solve_groups(metal, SOIL, segment_m=1.0)
    r = groups.resistance_ohm
    rise = studied.gpr_v["bus"]
    # mat at the rise, rod behind 0.1 ohm: R i = V with V_rod = rise - 0.1 i_rod (network theory)
    currents = np.linalg.solve(r + np.diag([0.0, 0.1]), [rise, rise])
    state = groups.energise(current_a=dict(zip(groups.groups, currents, strict=True)))
    row = next(c for c in rows if c.voltage_v == 300.0)
    assert row.nearest_m == 0.0
    turn = np.arange(72) * np.pi / 36
    for distance, over in ((0.97 * row.furthest_m, True), (1.05 * row.furthest_m, False)):
        x, y = 300.0 + distance * np.cos(turn), 10.0 + distance * np.sin(turn)
        ring = np.abs(state.field_v(np.column_stack([x, y, np.zeros(72)])))
        assert (ring.max() >= 300.0) is np.bool_(over)


def test_the_second_solution_is_shown_and_its_error_counts(studied):
    found = studied.surroundings.boundary
    assert found.solution is not None
    assert found.solution.kernel_error <= 1e-3
    assert found.error >= 0.02
    assert found.solution.resistance_ohm == pytest.approx(studied.field.resistance_ohm, rel=0.01)


def test_a_second_solution_that_can_not_be_relied_on_decides_nothing(monkeypatch):
    """The same refusal as for the first: a kernel fitted worse than accepted."""
    true = around.field_summary

    def poor(*given):
        return dataclasses.replace(true(*given), kernel_error=0.5)

    monkeypatch.setattr(around, "field_summary", poor)
    study = run_study(project(EXPOSURE))
    checks = {c.identity: c for c in study.checks}
    for side in ("near", "far"):
        check = checks[f"touch-side-{side}"]
        assert check.verdict is Verdict.NOT_DECIDED
        assert "fences and services solved with the mat: the soil kernel" in check.reason
    assert checks["touch-yard"].verdict is not Verdict.NOT_DECIDED  # the first solution stands
    assert checks["risk-yard"].verdict is not Verdict.PASS


def test_the_risk_takes_the_worst_of_fences_gates_and_services_in_its_zone(studied):
    """Definition: every contact at the worst place of the zone, of the mat or of what stands in it."""
    found = studied.surroundings.boundary
    (risk,) = [r for r in studied.risks if r.zone == "yard"]
    own = [s for s in (*studied.shocks, *found.shocks) if (s.quantity, s.zone) == ("touch", "yard")]
    worst = max(s.value_v for s in own)
    assert any(s.metal == "side, near" for s in own)
    assert risk.scenarios[0].touch_v == pytest.approx(worst * (1 + found.error), rel=1e-9)
    words = " ".join(risk.assumptions)
    assert "side, near" in words
    assert "not in the risk of any zone: service old pipe, its far end has no place in plan" in words
    bare = next(r for r in studied.risks if r.zone != "yard")
    assert "sheath, along" in " ".join(bare.assumptions)


def test_a_fence_that_governs_the_risk_raises_it():
    """A fence bonded far outside the mat has the full rise against ground far below it."""
    plain = run_study(project(EXPOSURE, fences=()))
    far = Fence(((45.0, 0.0), (45.0, 20.0)), "out", bonding="bonded")
    with_fence = run_study(project(EXPOSURE, fences=(far,)))
    risks = [next(r for r in s.risks if r.zone == "yard") for s in (plain, with_fence)]
    assert risks[1].scenarios[0].touch_v > 1.2 * risks[0].scenarios[0].touch_v
    assert risks[1].individual_per_year > risks[0].individual_per_year


def test_where_risk_governs_it_judges_fences_in_its_zones_too():
    judged = run_study(project(dataclasses.replace(EXPOSURE, governs=True)))
    checks = {c.identity: c for c in judged.checks}
    for identity in ("touch-yard", "touch-side-near", "touch-side-far"):
        assert not checks[identity].governing
        assert "judged by risk instead" in checks[identity].reason
    assert checks["risk-yard"].governing
    mixed = dataclasses.replace(project().surface[0], exposure=dataclasses.replace(EXPOSURE, governs=True))
    half = dataclasses.replace(mixed, outline_m=((-30.0, -30.0), (25.0, -30.0), (25.0, 50.0), (-30.0, 50.0)))
    split = run_study(project(None, surface=(half,)))
    checks = {c.identity: c for c in split.checks}
    assert checks["touch-side-far"].governing  # its feet stand in a zone that no risk judges


def test_a_gate_in_no_metal_is_named_as_left_out():
    gate = Gate((0.0, -10.0), (4.0, -10.0), "wood gate", opens="inward")
    wood = Fence(((0.0, -10.0), (4.0, -10.0)), "wood", bonding="insulating")
    study = run_study(project(EXPOSURE, fences=(wood,), gates=(gate,)))
    words = " ".join(study.risks[0].assumptions)
    assert "gate wood gate, in no fence of metal" in words
