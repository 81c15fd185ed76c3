"""Metal that is not bonded, and conductors in backfill, through the whole study."""

import dataclasses
from math import log, pi

import numpy as np
import pytest

from evenground.errors import InputError
from evenground.model.conductor import ConductorRequest
from evenground.model.fault import FaultScenario
from evenground.model.project import Identity, Project
from evenground.model.site import (
    Assessment,
    BackfillLayout,
    DepthLine,
    ExtraRun,
    MatLayout,
    MetalLink,
    RodList,
    SeparateElectrode,
)
from evenground.model.soil import LayeredSoil, SoilChoice
from evenground.study import run_study

RHO = 100.0
ROD_M, ROD_MM = 3.0, 16.0


@pytest.fixture(scope="module")
def project():
    corners = ((0.0, 0.0), (12.0, 0.0), (12.0, 8.0), (0.0, 8.0))
    return Project(
        identity=Identity("case"),
        frequency_hz=50.0,
        traverses=(),
        soil_choice=SoilChoice(select="given", given=LayeredSoil((RHO,))),
        faults=(FaultScenario("bus", 20e3, 0.5, 1.0, current_a=100.0, x_over_r=5.0, split_source="test"),),
        conductors={"mat": ConductorRequest("mat", "copper_hard_drawn", diameter_mm=10.0)},
        mats=(MatLayout("m", corners, 4.0, 4.0, 0.6),),
        assessment=Assessment(raster_m=1.0),
    )


def separate_rod(x_m, **more):
    rods = (RodList(((x_m, 4.0),), ROD_M, ROD_MM, 0.0),)
    return SeparateElectrode("neutral rod", rods=rods, path=("separate_electrodes", 0), **more)


def with_separate(project, *items, **more):
    return run_study(dataclasses.replace(project, separate=items, **more))


def test_a_far_floating_rod_takes_the_potential_of_the_ground(project):
    """At a distance the mat is a point source at the surface: V = rho I/(2 pi d) (Sunde, Earth Conduction
    Effects in Transmission Systems, ch. 3)."""
    study = with_separate(project, separate_rod(106.0))
    (rod,) = study.separate
    expected = RHO / (2 * pi * 100.0) / study.field.resistance_ohm
    assert rod.share == pytest.approx(expected, rel=0.01)  # the mat's own extent: (6/100)^2
    assert rod.floating
    assert rod.leaked_share == pytest.approx(0.0, abs=1e-12)
    assert rod.potential_v["bus"] == pytest.approx(rod.share * study.gpr_v["bus"], rel=1e-12)


def test_the_own_resistance_of_the_rod_is_that_of_a_rod_alone(project):
    """R = rho/(2 pi L) (ln(4L/a) - 1), Dwight 1936, for a rod from the surface down (thin-rod formula, within
    one per cent at L/a = 375)."""
    study = with_separate(project, separate_rod(106.0))
    expected = RHO / (2 * pi * ROD_M) * (log(4 * ROD_M / (ROD_MM / 2000)) - 1)
    assert study.separate[0].resistance_ohm == pytest.approx(expected, rel=0.015)


def test_a_link_divides_the_current_like_the_circuit_of_own_and_mutual_resistances(project):
    """Two electrodes with own and mutual resistance and a link between them: nodal solution by hand."""
    link = 5.0
    study = with_separate(project, separate_rod(20.0, links=(MetalLink("mat", link),)))
    alone = with_separate(project, separate_rod(20.0))
    (rod,) = study.separate
    own_mat = _own_of_mat(alone)
    # V1 = R11 I1 + R12 I2, V2 = R12 I1 + R22 I2, V1 - V2 = link I2, for I1 + I2 = 1
    r12, r22 = rod.mutual_ohm, rod.resistance_ohm
    matrix = np.array([[own_mat - r12, r12 - r22 - link], [1.0, 1.0]])
    i1, i2 = np.linalg.solve(matrix, [0.0, 1.0])
    assert rod.leaked_share == pytest.approx(i2, rel=1e-6)
    assert study.field.resistance_ohm == pytest.approx(own_mat * i1 + r12 * i2, rel=1e-6)
    assert not rod.floating


def _own_of_mat(study):
    """Own resistance of the mat with nothing else leaking in sum: a floating rod carries no net current."""
    return study.field.resistance_ohm


def test_a_link_without_resistance_is_a_bond(project):
    """Limit: through a link of a micro-ohm the rod belongs to the mat."""
    linked = with_separate(project, separate_rod(20.0, links=(MetalLink("mat", 1e-6),)))
    bonded = run_study(dataclasses.replace(project, rods=separate_rod(20.0).rods))
    assert linked.field.resistance_ohm == pytest.approx(bonded.field.resistance_ohm, rel=1e-5)
    assert linked.separate[0].share == pytest.approx(1.0, rel=1e-5)


def test_touch_at_separate_metal_is_judged_with_the_limits_of_the_place(project):
    study = with_separate(project, separate_rod(20.0))
    rows = [s for s in study.shocks if s.metal == "neutral rod"]
    assert len(rows) == 1
    reach = np.hypot(rows[0].place.x_m - 20.0, rows[0].place.y_m - 4.0)
    assert reach <= 1.0 + 1e-6  # a person reaches one metre (IEEE Std 80, definition of touch voltage)
    assert any(
        c.identity == "touch-neutral-rod-bare-soil" and c.value == rows[0].value_v for c in study.checks
    )
    hidden = with_separate(project, separate_rod(20.0, touchable=False))
    assert not [s for s in hidden.shocks if s.metal]


def test_two_pieces_of_metal_within_reach_of_two_hands_are_reported(project):
    near = with_separate(project, separate_rod(13.0))
    assert any(f.code == "two-hands" and f.path == ("separate_electrodes", 0) for f in near.findings)
    far = with_separate(project, separate_rod(20.0))
    assert not any(f.code == "two-hands" for f in far.findings)


def test_metal_that_touches_the_mat_is_refused_with_its_place(project):
    with pytest.raises(InputError, match=r"“neutral rod” .* touches the bonded metal") as caught:
        with_separate(project, separate_rod(12.0))
    assert caught.value.findings[0].path == ("separate_electrodes", 0)


def test_backfill_lowers_the_resistance_of_a_rod_by_the_formula_of_two_cylinders(project):
    """R = [rho_b ln(D/d) + rho (ln(8 L/D) - 1)]/(2 pi L), Fagan and Lee 1970, as IEEE Std 80 has it for
    concrete-encased electrodes (equation quoted from memory)."""
    hole_mm, filling = 150.0, 3.0
    around = BackfillLayout(hole_mm, filling, "bentonite")
    rods = (RodList(((6.0, 4.0),), ROD_M, ROD_MM, 0.0, backfill=around),)
    study = run_study(dataclasses.replace(project, mats=(), rods=rods))
    expected = filling * log(hole_mm / ROD_MM) + RHO * (log(8 * ROD_M / (hole_mm / 1000)) - 1)
    expected /= 2 * pi * ROD_M
    assert study.field.resistance_ohm == pytest.approx(expected, rel=0.05)  # a thick cylinder, L/a = 40
    bare = run_study(
        dataclasses.replace(project, mats=(), rods=(dataclasses.replace(rods[0], backfill=None),))
    )
    assert study.field.resistance_ohm < 0.8 * bare.field.resistance_ohm


def test_backfill_counts_in_separate_electrodes_too(project):
    around = BackfillLayout(150.0, 3.0, "bentonite")
    item = separate_rod(106.0)
    treated = dataclasses.replace(item, rods=(dataclasses.replace(item.rods[0], backfill=around),))
    plain = with_separate(project, item).separate[0].resistance_ohm
    assert with_separate(project, treated).separate[0].resistance_ohm < 0.8 * plain


def test_a_section_in_depth_starts_at_the_surface_and_falls_with_depth(project):
    """Away from metal the potential falls with distance from the electrode (maximum principle)."""
    line = DepthLine("s", (-30.0, 4.0), (42.0, 4.0), 20.0)
    assessment = dataclasses.replace(project.assessment, sections=(line,))
    study = run_study(dataclasses.replace(project, assessment=assessment))
    (section,) = study.sections
    assert section.potential.shape == (len(section.depth_m), len(section.along_m))
    middle = section.potential[:, len(section.along_m) // 2]
    below = section.depth_m > 1.0
    assert np.all(np.diff(middle[below]) < 0)
    assert section.potential.max() <= 1.0 + 1e-6


def test_a_floating_conductor_outside_flattens_the_ground_beside_it(project):
    """A floating conductor is equipotential: the ground along it varies less than without it."""
    run = ExtraRun(((16.0, -20.0), (16.0, 28.0)), 0.5)
    item = SeparateElectrode("pipe", runs=(run,), touchable=False, path=("separate_electrodes", 0))
    line = DepthLine("along", (16.0, -20.0), (16.0, 28.0), 1.0)
    assessment = dataclasses.replace(project.assessment, sections=(line,))
    spread = {}
    for name, items in (("with", (item,)), ("without", ())):
        study = with_separate(project, *items, assessment=assessment)
        spread[name] = float(np.ptp(study.sections[0].potential[0]))
    assert spread["with"] < 0.8 * spread["without"]
