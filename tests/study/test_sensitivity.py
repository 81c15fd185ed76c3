"""What other inputs do to the margins, against whole new studies of the changed project and proportion."""

from dataclasses import replace
from pathlib import Path

import pytest

from evenground import load_project, run_study
from evenground.study import with_sensitivity

SITE = Path("examples/harrow-lane/site-revised.yaml")


@pytest.fixture(scope="module")
def study():
    """The demo without its network, so that the current of the mat does not follow its resistance."""
    project = load_project(SITE)
    soil = run_study(project).soil.soil
    choice = replace(project.soil_choice, select="given", given=soil, reason="test")
    faults = tuple(replace(f, split_factor=0.5, split_stated=True) for f in project.faults)
    plain = replace(project, network=None, traverses=(), soil_choice=choice, faults=faults)
    return with_sensitivity(run_study(plain))


def row(study, subject, change):
    (found,) = (r for r in study.sensitivity if (r.subject, r.change) == (subject, change))
    return found


def worst(study, quantity):
    return max(s.value_v / s.limit_v for s in study.shocks if s.quantity == quantity)


def test_the_first_row_is_the_study(study):
    base = row(study, "as designed", "")
    assert base.touch == pytest.approx(worst(study, "touch"), rel=1e-12)
    assert base.step == pytest.approx(worst(study, "step"), rel=1e-12)
    assert base.resistance_ohm == study.field.resistance_ohm


@pytest.mark.parametrize("factor", [0.8, 1.2])
def test_voltages_are_proportional_to_the_current(study, factor):
    found = row(study, "fault currents", f"× {factor:g}")
    assert found.touch == pytest.approx(factor * worst(study, "touch"), rel=1e-12)
    assert found.step == pytest.approx(factor * worst(study, "step"), rel=1e-12)


def changed(study, subject, factor):
    """The project with the change made by hand."""
    p, soil = study.project, study.soil.soil
    if subject == "clearing times":
        faults = tuple(replace(f, shock_time_s=factor * f.shock_time_s, thermal_time_s=9.0) for f in p.faults)
        return replace(p, faults=faults)
    if subject == "resistivity of the cover":
        zones = tuple(
            replace(z, resistivity_ohm_m=factor * z.resistivity_ohm_m) if z.resistivity_ohm_m else z
            for z in p.surface
        )
        return replace(p, surface=zones)
    if subject == "depth of the conductors":
        return replace(
            p,
            mats=tuple(replace(m, depth_m=factor * m.depth_m) for m in p.mats),
            runs=tuple(replace(r, depth_m=factor * r.depth_m) for r in p.runs),
        )
    rho = list(soil.resistivities_ohm_m)
    for i in range(len(rho)):
        if subject == "soil, all layers" or (i == 0) == (subject == "soil, top layer"):
            rho[i] *= factor
    given = replace(soil, resistivities_ohm_m=tuple(rho))
    return replace(p, soil_choice=replace(p.soil_choice, given=given))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("subject", "change", "factor", "tolerance"),
    [
        # a new study searches its own worst places and its own segments: 1 % where the field is new
        ("clearing times", "× 2", 2.0, 1e-6),
        ("resistivity of the cover", "× 0.3", 0.3, 1e-6),
        ("soil, all layers", "× 1.5", 1.5, 1e-3),
        ("soil, top layer", "÷ 1.5", 1 / 1.5, 0.01),
        ("soil, below the top layer", "× 1.5", 1.5, 0.01),
        ("depth of the conductors", "× 1.25", 1.25, 0.01),
    ],
)
def test_each_row_agrees_with_a_whole_new_study(study, subject, change, factor, tolerance):
    found, new = row(study, subject, change), run_study(changed(study, subject, factor))
    assert found.resistance_ohm == pytest.approx(new.field.resistance_ohm, rel=tolerance)
    assert found.gpr_v == pytest.approx(max(new.gpr_v.values()), rel=tolerance)
    assert found.touch == pytest.approx(worst(new, "touch"), rel=tolerance)
    assert found.step == pytest.approx(worst(new, "step"), rel=tolerance)


def test_a_site_too_large_to_be_solved_again_says_so(study, monkeypatch):
    from evenground import _study_sensitivity

    monkeypatch.setattr(_study_sensitivity, "MOST_SEGMENTS", 1)
    found = row(with_sensitivity(study), "depth of the conductors", "× 1.25")
    assert (found.touch, found.step) == (None, None)
    assert "up to 1 are solved again" in found.note
