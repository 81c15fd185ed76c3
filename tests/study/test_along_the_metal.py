"""The voltage along the metal, through the whole study."""

import dataclasses

import numpy as np
import pytest

from evenground.conductor import electrical_metal, size_conductor
from evenground.errors import InputError
from evenground.fault import fault_currents
from evenground.field import Metal, internal_impedance
from evenground.model.conductor import ConductorRequest
from evenground.model.fault import FaultScenario
from evenground.model.project import Identity, Project
from evenground.model.site import Assessment, EntryPoint, ExtraRun, MatLayout, RodList, SeparateElectrode
from evenground.model.soil import LayeredSoil, SoilChoice
from evenground.study import run_study

RHO = 100.0
FAULT = FaultScenario("bus", 20e3, 0.5, 1.0, current_a=100.0, x_over_r=5.0, split_source="test")


@pytest.fixture(scope="module")
def project():
    corners = ((0.0, 0.0), (12.0, 0.0), (12.0, 8.0), (0.0, 8.0))
    return Project(
        identity=Identity("case"),
        frequency_hz=50.0,
        traverses=(),
        soil_choice=SoilChoice(select="given", given=LayeredSoil((RHO,))),
        faults=(FAULT,),
        conductors={"mat": ConductorRequest("mat", "copper_hard_drawn", diameter_mm=10.0)},
        mats=(MatLayout("m", corners, 4.0, 4.0, 0.6),),
        assessment=Assessment(raster_m=1.0),
    )


def entered(project, *places, **more):
    entries = tuple(
        EntryPoint(at, 1 / len(places), ("assessment", "entry_points", k)) for k, at in enumerate(places)
    )
    assessment = dataclasses.replace(project.assessment, entry_points=entries)
    return run_study(dataclasses.replace(project, assessment=assessment, **more))


def test_a_small_copper_mat_is_nearly_at_one_potential(project):
    """Common practice: the drop along a copper mat of a few metres is far below its potential rise."""
    plain, drop = run_study(project), entered(project, (0.0, 0.0))
    assert drop.metal_drop.drop_v["bus"] < 0.01 * drop.gpr_v["bus"]
    assert drop.field.resistance_ohm == pytest.approx(plain.field.resistance_ohm, rel=0.01)
    assert drop.worst_touch.value_v == pytest.approx(plain.worst_touch.value_v, rel=0.02)
    assert drop.worst_step.value_v == pytest.approx(plain.worst_step.value_v, rel=0.02)


def test_a_long_steel_strip_follows_the_line_with_distributed_leakage(project):
    """Z = sqrt(z/y) coth(sqrt(z y) L) for a buried wire fed at its end; z from internal impedance and the
    inductance outside with the earth's return, y = 1/(R L) (Sunde, Earth Conduction Effects in
    Transmission Systems, ch. 8). The formula takes leakage as local, hence the tolerance."""
    length, steel = (
        400.0,
        ConductorRequest("mat", "steel_1020", diameter_mm=12.0, relative_permeability=150.0),
    )
    run = ExtraRun(((0.0, 0.0), (length, 0.0)), 0.8)
    study = entered(project, (0.0, 0.0), mats=(), runs=(run,), conductors={"mat": steel})
    radius = 0.006
    inside = internal_impedance(Metal(15.9e-8, 150.0), radius, 50.0)
    depth = 658.9 * np.sqrt(RHO / 50.0)  # equivalent depth of the earth's return (Carson)
    z = inside + 2e-4 * np.pi**2 * 50.0 / 5e2 + 1j * 2 * np.pi * 50.0 * 2e-7 * np.log(depth / radius)
    y = 1 / (study.metal_drop.resistance_ohm * length)
    expected = np.sqrt(z / y) / np.tanh(np.sqrt(z * y) * length)
    assert abs(study.metal_drop.impedance_ohm) == pytest.approx(abs(expected), rel=0.08)
    assert study.metal_drop.furthest_m[0] == pytest.approx(length)
    assert study.metal_drop.drop_v["bus"] > 0.3 * study.gpr_v["bus"]


def test_current_entering_at_both_ends_meets_less_than_at_one(project):
    """Shares at two places halve the length that each has to feed (superposition and symmetry)."""
    steel = ConductorRequest("mat", "steel_1020", diameter_mm=12.0)
    run = ExtraRun(((0.0, 0.0), (400.0, 0.0)), 0.8)
    more = {"mats": (), "runs": (run,), "conductors": {"mat": steel}}
    one, both = entered(project, (0.0, 0.0), **more), entered(project, (0.0, 0.0), (400.0, 0.0), **more)
    assert both.gpr_v["bus"] < 0.8 * one.gpr_v["bus"]
    assert both.metal_drop.furthest_m[0] == pytest.approx(200.0, abs=10.0)  # the middle, by symmetry


def test_an_entry_between_joints_is_moved_onto_the_metal(project):
    beside = entered(project, (6.0, -0.5))
    assert beside.metal_drop is not None
    with pytest.raises(InputError, match=r"nearest metal lies 5\.00 m away") as caught:
        entered(project, (6.0, -5.0))
    assert caught.value.findings[0].path == ("assessment", "entry_points", 0, "at_m")


def test_separate_metal_floats_beside_metal_with_impedance(project):
    """A small copper mat is nearly equipotential, so a floating rod stands as beside a bonded mat."""
    rod = SeparateElectrode(
        "rod", rods=(RodList(((20.0, 4.0),), 3.0, 16.0, 0.0),), path=("separate_electrodes", 0)
    )
    plain = run_study(dataclasses.replace(project, separate=(rod,)))
    drop = entered(project, (0.0, 0.0), separate=(rod,))
    assert drop.separate[0].share == pytest.approx(plain.separate[0].share, rel=0.01)


def test_cladding_has_the_conductance_of_the_section():
    """Core and cladding side by side give the tabulated conductivity (20 % IACS, IEEE Std 80 Table 1)."""
    fault = fault_currents(FAULT, frequency_hz=50.0)
    rod = size_conductor(ConductorRequest("rod", "copper_clad_steel_rod_20", diameter_mm=16.0), (fault,))
    metal = electrical_metal(rod)
    radius, core = 0.008, 0.008 - metal.cladding_thickness_m
    conductance = core**2 / metal.resistivity_ohm_m + (radius**2 - core**2) / metal.cladding_resistivity_ohm_m
    assert radius**2 / conductance == pytest.approx(8.62e-8, rel=1e-6)
    assert 0.2e-3 < metal.cladding_thickness_m < 0.6e-3  # rods are clad with 0.25 mm and more (UL 467)


def test_touch_beside_a_deep_well_counts_the_top_of_its_metal(project):
    """A hand reaches the top of a well, which has the potential rise at the entry (touch voltage of IEEE
    Std 80 defines it); the far lower end, many volts below, does not count."""
    steel = ConductorRequest("rod", "steel_1020", diameter_mm=16.0)
    rods = (RodList(((0.0, 0.0),), 120.0, 16.0, 0.0),)
    soil = SoilChoice(select="given", given=LayeredSoil((100.0, 20.0), (5.0,)))
    more = {"mats": (), "rods": rods, "soil_choice": soil, "conductors": {"mat": steel, "rod": steel}}
    study = entered(project, (0.0, 0.0), **more)
    place = study.worst_touch.place
    assert 0.95 <= np.hypot(place.x_m, place.y_m) <= 1.2  # one metre beyond a square of 0.2 m around the well
    across = next(p for p in study.profiles if "along x" in p.name)
    ground = float(np.interp(place.x_m - across.start_m[0], across.distance_m, across.potential_v))
    assert study.worst_touch.value_v == pytest.approx(study.gpr_v["bus"] - ground, rel=0.03)


def test_metal_drawn_apart_needs_an_entry_or_a_link(project):
    """Current can not jump: a pad 30 m off that counts as bonded would float unseen."""
    pad = MatLayout("pad", ((40.0, 0.0), (44.0, 0.0), (44.0, 4.0), (40.0, 4.0)), 2.0, 2.0, 0.6)
    mats = (*project.mats, pad)
    with pytest.raises(InputError, match="no current enters") as caught:
        entered(project, (0.0, 0.0), mats=mats)
    assert caught.value.findings[0].code == "entry-pieces"
    link = (ExtraRun(((12.0, 0.0), (40.0, 0.0)), 0.6),)
    bonded = run_study(dataclasses.replace(project, mats=mats, runs=link))
    linked = entered(project, (0.0, 0.0), mats=mats, runs=link)
    assert linked.gpr_v["bus"] == pytest.approx(bonded.gpr_v["bus"], rel=0.02)
    assert linked.worst_touch.place.x_m == pytest.approx(bonded.worst_touch.place.x_m, abs=1.0)


def test_a_floating_rod_in_wide_backfill_near_the_mat_is_not_joined_to_it(project):
    """A gap of soil stays a gap, however wide the backfill beside it (share between mat and far earth)."""
    from evenground.model.site import BackfillLayout

    around = BackfillLayout(300.0, 3.0, "bentonite")
    rods = (RodList(((12.5, 0.0),), 3.0, 16.0, 0.6, backfill=around),)
    rod = SeparateElectrode("rod", rods=rods, path=("separate_electrodes", 0))
    plain = run_study(dataclasses.replace(project, separate=(rod,)))
    drop = entered(project, (0.0, 0.0), separate=(rod,))
    assert plain.separate[0].share < 0.8
    assert drop.separate[0].share == pytest.approx(plain.separate[0].share, rel=0.02)
    assert drop.field.resistance_ohm == pytest.approx(plain.field.resistance_ohm, rel=0.01)


def test_a_long_floating_pipe_states_its_highest_potential(project):
    """Beside a steel strip fed at its end the pipe follows the falling potential of the ground; what it may
    carry away is its highest, not its mean."""
    steel = ConductorRequest("mat", "steel_1020", diameter_mm=12.0)
    strip = (ExtraRun(((0.0, 0.0), (1500.0, 0.0)), 0.8),)
    pipe = SeparateElectrode(
        "pipe", runs=(ExtraRun(((0.0, 10.0), (1500.0, 10.0)), 1.0),), path=("separate_electrodes", 0)
    )
    more = {"mats": (), "runs": strip, "conductors": {"mat": steel}, "separate": (pipe,)}
    assessment = dataclasses.replace(project.assessment, raster_m=6.0)
    study = entered(dataclasses.replace(project, assessment=assessment), (0.0, 0.0), **more)
    assert study.separate[0].share > 0.2  # 0.25 at the hot end, 0.11 in the mean (independent nodal trial)
    assert study.field.resistance_error_ohm / study.field.resistance_ohm > 3e-4
