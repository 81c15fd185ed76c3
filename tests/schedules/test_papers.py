"""Construction sequence and record forms, as data and as PDF read by another library."""

import io

import pypdf
import pytest

from evenground.model.installation import Installation
from evenground.schedules import inspection_pdf, plan_construction, write_inspection_pdf


@pytest.fixture(scope="module")
def plan(small):
    return plan_construction(small)


def test_trenches_are_closed_only_after_joints_and_records(plan):
    order = [s.title for s in plan.steps]
    assert (
        order.index("Rods") < order.index("Joints") < order.index("Backfill") < order.index("Surface cover")
    )
    assert order[-1] == "As-built and tests"
    joints = plan.steps[order.index("Joints")]
    assert "before any trench is closed" in joints.hold
    assert [s.number for s in plan.steps] == list(range(1, len(order) + 1))


def test_the_sequence_says_what_the_schedules_say(plan):
    text = " ".join(s.work for s in plan.steps)
    assert "110 m of trench" in text
    # 4 corners, 8 tees, 3 crossings, 2 rods, 1 riser, 3 + 3 for the leads
    assert "Make 24 joints" in text
    assert "Drive 2 rods with 4 couplings" in text


def test_every_conductor_has_a_row_in_the_hidden_work_record(plan, small):
    hidden = plan.forms[0]
    assert len(hidden.rows) == len(small.horizontal) == 8
    assert all(row[-1] is None for row in hidden.rows)


@pytest.mark.parametrize(("share", "count"), [(0.1, 5), (0.5, 4 // 2 + 8 // 2 + 2 + 1 + 1), (1.0, 18)])
def test_the_joint_sample_holds_every_kind(small, share, count):
    """4 corners, 8 tees, 3 crossings, 2 rods, 1 riser: the share of each rounded up, at least one."""
    form = plan_construction(small, joint_sample_share=share).forms[1]
    assert len(form.rows) == count
    assert len(set(form.column("number"))) == count
    assert set(form.column("kind")) == {"corner", "tee", "crossing", "rod", "riser"}


def test_a_share_outside_its_range_is_refused(small):
    with pytest.raises(ValueError, match="above 0 and not above 1"):
        plan_construction(small, joint_sample_share=0.0)


def test_the_pdf_holds_steps_forms_and_caution(plan, tmp_path):
    write_inspection_pdf(plan, tmp_path / "papers.pdf")
    reader = pypdf.PdfReader(tmp_path / "papers.pdf")
    text = " ".join(page.extract_text() for page in reader.pages)
    for words in (
        "Construction sequence",
        "Hidden-work record",
        "Joint test",
        "As-built mark-up",
        "licensed engineer",
    ):
        assert words in text
    assert "LP-EA-07" in text
    assert "abababab" in text


def test_the_pdf_is_the_same_twice(designs):
    first, second = (inspection_pdf(plan_construction(designs.small())) for _ in range(2))
    assert first == second


def test_long_forms_go_over_pages(designs):
    """No row may be lost or overprinted when a form is longer than a page."""
    from evenground.electrode import rectangular_mat
    from evenground.schedules import design_of_electrode

    mat = rectangular_mat(length_x_m=60, length_y_m=60, meshes_x=40, meshes_y=40, depth_m=0.6, radius_m=0.005)
    plan = plan_construction(design_of_electrode(mat, designs.IDENTITY, installation=Installation()))
    reader = pypdf.PdfReader(io.BytesIO(inspection_pdf(plan)))
    text = " ".join(page.extract_text() for page in reader.pages)
    assert len(reader.pages) >= 5
    assert all(f"mat {n}" in text for n in range(1, 83))


def test_user_text_is_never_markup(designs):
    import dataclasses

    design = designs.small()
    evil = '#panic() $x$ *b* @cite \\ "q" <l>'
    design = dataclasses.replace(design, identity=dataclasses.replace(design.identity, title=evil))
    text = pypdf.PdfReader(io.BytesIO(inspection_pdf(plan_construction(design)))).pages[0].extract_text()
    assert "#panic()" in text
