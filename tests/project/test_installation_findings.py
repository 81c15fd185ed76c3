"""Equipment, fences, gates and services in the project file: shapes, and errors at their line."""

import pytest

from evenground.errors import InputError
from evenground.project import parse_project, starter_text

STARTER = starter_text("substation")


def with_part(text):
    """The starter with this text at its end, and the number of the text's first line."""
    return f"{STARTER}{text}", STARTER.count("\n") + 1


def errors_of(text):
    whole, first = with_part(text)
    with pytest.raises(InputError, match=r".") as caught:
        parse_project(whole)
    return [(f.code, f.field, f.line - first, f.message, f.advice) for f in caught.value.findings]


EQUIPMENT = "equipment:\n  - {tag: Q1, kind: disconnector, at_m: [10, 10], connections: 2}\n"
FENCE = "fences:\n  - {name: f, points_m: [[0, 0], [60, 0], [60, 40]], bonding: bonded}\n"


@pytest.mark.parametrize(
    ("text", "code", "field", "line", "words"),
    [
        (EQUIPMENT.replace("connections: 2", "conductor: tail, connections: 2"), "conductor-unknown",
         "equipment[0].conductor", 1, "'tail' is not defined"),
        (EQUIPMENT.replace("connections: 2", "connections: 0"), "", "equipment[0].connections", 1, ""),
        (EQUIPMENT.replace("disconnector", "disconector"), "", "equipment[0].kind", 1, "disconnector"),
        (EQUIPMENT.replace("connections: 2", "connections: 2, diameter_m: 2"), "equipment-field",
         "equipment[0].diameter_m", 1, "air_core_reactor"),
        (EQUIPMENT + EQUIPMENT.splitlines()[1], "name-twice", "equipment[1].tag", 2, "'Q1'"),
        (FENCE.replace("bonded}", "separate, bond_spacing_m: 5}"), "fence-bonds",
         "fences[0].bond_spacing_m", 1, "bonding: bonded"),
        (FENCE.replace("bonded}", "bonded, owner: neighbour}"), "fence-neighbour", "fences[0].bonding", 1,
         "insulated section"),
        (FENCE.replace("bonded}", "bonded, insulated_sections_m: [[5, 3]]}"), "fence-section",
         "fences[0].insulated_sections_m[0]", 1, "3.00 m off"),
        (FENCE.replace("[60, 0], [60, 40]", "[60, 0], [60, 0]"), "fence-point-twice",
         "fences[0].points_m[2]", 1, "same place"),
        ("gates:\n  - {name: g, start_m: [1, 0], end_m: [4, 0], opens: inward}\n", "gate-fence", "gates[0]",
         1, "under fences"),
        (FENCE + "gates:\n  - {name: g, start_m: [1, 2], end_m: [4, 0], opens: inward}\n", "gate-off-fence",
         "gates[0].start_m", 3, "2.00 m off"),
        (FENCE + "gates:\n  - {name: g, start_m: [1, 0], end_m: [4, 0], opens: inward, fence: ff}\n",
         "gate-fence", "gates[0].fence", 3, "did you mean 'f'"),
        (FENCE + "gates:\n  - {name: g, start_m: [1, 0], end_m: [1, 0], opens: inward}\n", "gate-width",
         "gates[0].end_m", 3, "same place"),
        ("services:\n  - {name: s, kind: pipe, disposal: no_metal, withstand_v: 5}\n", "service-no-metal",
         "services[0].withstand_v", 1, "disposal"),
        ("services:\n  - {name: s, kind: pipe, disposal: bonded, withstand_v: 5}\n", "service-withstand",
         "services[0].withstand_v", 1, "isolated"),
        ("services:\n  - {name: s, kind: pipe, disposal: bonded, impedance_ohm: [1, 2]}\n",
         "service-impedance", "services[0].impedance_ohm", 1, "remote_rods_m"),
        ("services:\n  - {name: s, kind: pipe, disposal: bonded, system: tt}\n", "service-system",
         "services[0].system", 1, "kind"),
        ("practice: mars\n", "", "practice", 0, ""),
    ],
)  # fmt: skip
def test_a_mistake_is_named_at_its_line(text, code, field, line, words):
    found = errors_of(text)
    rows = [row for row in found if row[1] == field]
    assert rows, found
    assert rows[0][2] == line
    assert rows[0][0] == code or not code
    assert words in rows[0][3] + rows[0][4]


def test_lists_become_shapes_in_si():
    text = (
        EQUIPMENT.replace("connections: 2", "connections: 2, measures: [operator_mat], voltage_kv: 110")
        + "fences:\n  - name: ring\n    points_m: [[0, 0], [60, 0], [60, 40], [0, 40], [0, 0]]\n"
        "    bonding: separate\n    posts: {spacing_m: 3, depth_m: 0.5, diameter_mm: 48}\n"
        "    rods_m: [[0, 0]]\n"
        "gates:\n  - {name: g, start_m: [1, 0], end_m: [4, 0], opens: outward, leaves: 2}\n"
        "services:\n  - {name: s, kind: lv_supply, disposal: bonded, system: tn, remote_rods_m: [[300, 0]],"
        " impedance_ohm: [0.2, 0.1]}\n"
        "practice: usa\n"
    )
    built = parse_project(with_part(text)[0]).installation
    assert built.equipment[0].kind == "disconnector"
    assert built.equipment[0].measures == ("operator mat",)
    (fence,) = built.fences
    assert fence.closed
    assert len(fence.points_m) == 4
    assert fence.posts.diameter_m == pytest.approx(0.048)
    assert built.gates[0].bonded is None
    assert built.services[0].kind == "lv supply"
    assert built.services[0].impedance_ohm == 0.2 + 0.1j
    assert built.practice == "usa"
    assert built.stated == ("equipment", "fences", "gates", "services")


def test_lists_left_out_are_not_stated():
    bare = with_part("")[0]
    assert parse_project(bare).installation.stated == ()


def test_isolation_without_a_name_is_a_warning():
    text = "services:\n  - {name: s, kind: pipe, disposal: isolated, withstand_v: 5000}\n"
    found = {f.code for f in parse_project(with_part(text)[0]).warnings}
    assert "service-nobody" in found
