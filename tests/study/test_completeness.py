"""Completeness page: outcome of the checks beside each subject, and everything that crosses the boundary."""

import dataclasses

import pytest

from evenground._study_coverage import coverage, settled_subjects
from evenground._study_coverage_marks import CHAPTERS, checks_of, shown_status
from evenground.deliver._report_boundary import completeness
from evenground.model.installation import EquipmentItem, Fence, Installation
from evenground.model.network import Network
from evenground.model.project import Declaration, Identity, Project
from evenground.model.services import Service
from evenground.model.site import Assessment
from evenground.model.soil import LayeredSoil, SoilChoice
from evenground.model.split_routes import Cable, LineImpedances, OverheadLine, Sheath, Wire
from evenground.model.study import Check, Verdict
from evenground.model.surroundings import Boundary, Surroundings

SHEATH = Sheath(0.74e-3, 0.016)
CABLE = Cable("Fen End cable", 2200.0, "Mill Street", sheath=SHEATH)


def project(**changes):
    made = Project(
        identity=Identity("cover"),
        frequency_hz=50.0,
        traverses=(),
        soil_choice=SoilChoice(select="given", given=LayeredSoil((100.0,))),
        faults=(),
        conductors={},
        mats=(),
        assessment=Assessment(),
    )
    return dataclasses.replace(made, **changes)


def check(identity, verdict, *, governing=True):
    return Check(identity, identity, verdict, 1.0, 1.0, "V", governing=governing)


def rows_of(made, found=None, checks=()):
    return {r.subject: r for r in coverage(made, found or Boundary(), checks)}


@pytest.mark.parametrize(
    ("status", "verdicts", "shown"),
    [
        ("covered", [], "looked at"),
        ("partly covered", [], "partly looked at"),
        ("covered", [Verdict.PASS], "checked: passes"),
        ("covered", [Verdict.PASS, Verdict.NOT_DECIDED], "checked: not decided"),
        ("covered", [Verdict.NOT_DECIDED, Verdict.FAIL], "checked: fails"),
        ("partly covered", [Verdict.PASS], "partly checked: passes"),
        ("open", [Verdict.PASS], "open"),
        ("not applicable", [], "not applicable"),
    ],
)
def test_a_subject_never_reads_better_than_its_checks(status, verdicts, shown):
    """Common practice: the worst outcome is the one that is said; open stays open."""
    assert shown_status(status, [check("x", v) for v in verdicts]) == shown


def test_checks_belong_to_their_subject():
    fence = Fence(((0.0, 0.0), (9.0, 0.0)), "north", bonding="bonded")
    services = (Service("Main, new", "pipe", "isolated"), Service("line", "telecom", "isolated"))
    made = project(installation=Installation(fences=(fence,), services=services))
    around = [
        check("touch-north-outside", Verdict.FAIL),
        check("touch-leaf-swing", Verdict.PASS),
        check("gate-bond-leaf", Verdict.PASS),
        check("transfer-main-new", Verdict.PASS),
        check("transfer-line", Verdict.FAIL),
        check("touch-main-new-along", Verdict.PASS),
        check("touch-main-new-beyond", Verdict.FAIL),
        check("joint-main-new", Verdict.FAIL),
    ]
    at_mat = [check("touch-yard", Verdict.PASS), check("touch-other", Verdict.FAIL, governing=False)]

    def names(key):
        return [c.identity for c in checks_of(key, made, at_mat, around)]

    assert names("fence") == ["touch-north-outside"]
    assert names("gate") == ["touch-leaf-swing", "gate-bond-leaf"]
    assert names("pipe") == [
        "transfer-main-new",
        "touch-main-new-along",
        "touch-main-new-beyond",
        "joint-main-new",
    ]
    assert names("telecom") == ["transfer-line"]
    assert names("touch") == ["touch-yard"]
    assert names("soil") == []


def test_a_failing_subject_names_what_fails_and_the_chapter():
    fence = Fence(((0.0, 0.0), (9.0, 0.0)), "north", bonding="bonded")
    made = project(installation=Installation(fences=(fence,)))
    row = rows_of(made, Boundary(checks=(check("touch-north-outside", Verdict.FAIL),)))["Fences"]
    assert (row.status, row.chapter) == ("checked: fails", "Fences and gates")
    assert row.how.endswith("fails: touch-north-outside")


SHEATHS = "Sheaths and screens of cables that leave the site"
WIRES = "Earth wires and neutrals of lines that leave the site"


def test_sheaths_and_earth_wires_of_the_network_are_not_open():
    wire = Wire("earth wire", 0.0, 24.0, 1e-3, 0.008)
    phase = Wire("a", 3.0, 15.0, 1e-4, 0.008)
    line = OverheadLine("north line", (300.0,), (14.0,), (wire,), (phase,), far_station="Birch")
    bare = OverheadLine("bare line", (300.0,), (14.0,), (), (phase,), far_station="Birch")
    loose = dataclasses.replace(line, name="loose line", bonded_near=False)
    made = project(network=Network(lines=(line, bare, loose), cables=(CABLE,)))
    rows = rows_of(made)
    assert rows[SHEATHS].status == "partly looked at"
    assert "Fen End cable: sheath both ends" in rows[SHEATHS].how
    assert "far end is not judged" in rows[SHEATHS].how
    assert rows[WIRES].status == "looked at"
    for words in (
        "north line: 1 earth wire, joined to the mat",
        "bare line: no earth wire",
        "loose line: 1 earth wire, insulated at the gantry",
    ):
        assert words in rows[WIRES].how
    left = settled_subjects(project(network=made.network, installation=INSIDE))
    assert "cable sheath" not in " ".join(left.values())


INSIDE = Installation(services=(Service("t", "telecom", "no metal"),))


def test_a_cable_under_services_is_judged_there():
    service = Service("Fen End cable", "cable sheath", "bonded")
    made = project(network=Network(cables=(CABLE,)), installation=Installation(services=(service,)))
    found = Boundary(checks=(check("transfer-fen-end-cable", Verdict.FAIL),))
    assert rows_of(made, found)[SHEATHS].status == "checked: fails"


def test_everything_that_may_cross_the_boundary_has_a_row_that_is_open_until_somebody_says():
    """Rule: every metallic thing that crosses the boundary must be disposed of (common practice; ITU-T K.104
    names sheaths, neutrals, pipes and rails, from memory)."""
    rows = rows_of(project())
    subjects = [SHEATHS, WIRES, "Telecommunication circuits", "Low-voltage supply and its neutral",
                "Pipes that leave the site", "Rails"]  # fmt: skip
    assert {rows[s].status for s in subjects} == {"open"}
    declared = project(
        declarations=(Declaration("Earth wires", "not applicable", "A. Person", "cables only"),)
    )
    row = rows_of(declared)[WIRES]
    assert (row.status, row.by) == ("not applicable", "A. Person")


def test_a_rail_inside_the_site_asks_how_it_leaves():
    rail = EquipmentItem("R1", "rail", 0.0, 0.0)
    made = project(installation=Installation(equipment=(rail,)))
    row = rows_of(made)["Rails"]
    assert row.status == "open"
    assert "R1 in the equipment list" in row.how


def test_the_page_puts_open_and_failing_first():
    fence = Fence(((0.0, 0.0), (9.0, 0.0)), "north", bonding="bonded")
    made = project(installation=Installation(fences=(fence,)))
    found = Boundary(checks=(check("touch-north-outside", Verdict.FAIL),))
    study = type("S", (), {"surroundings": Surroundings(coverage=coverage(made, found))})
    table = next(b for b in completeness(study)["blocks"] if b["kind"] == "table")
    shown = [row[1]["bold"] for row in table["rows"]]
    assert shown[0] == "OPEN"
    first = shown.index("checked: fails")
    assert set(shown[:first]) == {"OPEN"}
    assert set(CHAPTERS.values()) >= {row[4] for row in table["rows"]} - {"—"}


def test_chapters_are_titles_of_the_report():
    """Each title stands in the code that writes that chapter."""
    from importlib import resources

    text = "".join(
        f.read_text(encoding="utf-8")
        for f in (resources.files("evenground") / "deliver").iterdir()
        if f.name.startswith("_report") and f.name.endswith(".py")
    )
    assert all(f'"{title}"' in text for title in CHAPTERS.values())


def test_a_line_given_by_its_impedances_counts_as_having_a_wire():
    given = LineImpedances(((5e-4 + 7e-4j,),), ((1e-4 + 3e-4j,),))
    line = OverheadLine("given line", (300.0,), (14.0,), given=given, far_station="Birch")
    assert "given line: 1 earth wire" in rows_of(project(network=Network(lines=(line,))))[WIRES].how
