"""The chapter, sketch, tables and sentences that say where the fault current goes."""

import csv
import io
import json
from math import isclose, pi

import pytest

from evenground import load_project, run_study
from evenground.deliver._flows import split_flows
from evenground.deliver._report_network import angle_deg, network, own_splits
from evenground.deliver.plots import figure_bytes, study_figures
from evenground.deliver.report import report_data
from evenground.deliver.tables import study_tables
from evenground.deliver.words import split_sentence


@pytest.fixture(scope="module")
def cable_fed():
    return run_study(load_project("examples/tolland-works/site.yaml"))


def texts(value):
    if isinstance(value, str):
        return [value]
    if isinstance(value, dict):
        return [t for v in value.values() for t in texts(v)]
    return [t for v in value for t in texts(v)] if isinstance(value, list) else []


def test_angles_count_from_the_reference():
    assert isclose(angle_deg(-2j, 1.0), -90.0)
    assert angle_deg(0j, 1.0) == 0.0


def test_the_flows_balance_and_name_each_route_once(study):
    for split in own_splits(study):
        flows = split_flows(split)
        assert len({(f.name, f.kind) for f in flows}) == len(flows)
        total = abs(split.result.fault_current_a)
        assert abs(sum(f.current for f in flows)) < 1e-9 * total  # limit of the solver
        assert [f.share for f in flows] == sorted((f.share for f in flows), reverse=True)
        assert all(f.leaves == (abs(angle_deg(f.current, split.result.fault_current_a)) <= 90) for f in flows)


def test_a_fault_in_the_station_arrives_and_leaves_through_the_mat(study):
    """All phasors are within a quarter turn: the sources bring what mat, wires and neutral take away."""
    inside = next(s for s in own_splits(study) if not s.result.place.line)
    kinds = {f.kind: f.leaves for f in split_flows(inside)}
    assert kinds == {"fault": False, "source neutral": True, "wire": True, "mat": True}
    outside = next(s for s in own_splits(study) if s.result.place.line)
    assert {f.kind: f.leaves for f in split_flows(outside)} == {
        "source neutral": True, "wire": False, "mat": False,
    }  # fmt: skip


def test_the_chapter_shows_every_path_sum_and_cross_check(study):
    words = " ".join(texts(network(study)))
    for split in study.split:
        assert split.scenario in words
        for path in split.result.paths:
            assert path.name in words
    for piece in (
        "Annex C",
        "Reduction factor",
        "Sum of currents at every node",
        "Birch Hill",
        "Assumptions",
    ):
        assert piece in words


def test_without_a_network_there_is_no_chapter(study):
    import dataclasses

    plain = dataclasses.replace(study, split=())
    assert network(plain) is None
    assert not [name for name in study_figures(plain) if name.startswith(("current-", "rise-"))]
    assert "current-paths.csv" not in study_tables(plain)


def test_report_places_the_chapter_and_its_figures(study):
    figures = study_figures(study)
    assert {"current-1", "current-2", "rise-1"} <= set(figures)
    data = report_data(study, made_on="2026-04-17", plots=set(figures))
    titles = [c["title"] for c in data["chapters"]]
    assert (
        titles.index("Where the current goes")
        == titles.index("Earth faults, clearing times and current split") + 1
    )
    assert figure_bytes(figures["rise-1"](), "svg").startswith(b"<?xml")


def test_tables_hold_all_places_and_phasors(study):
    tables = study_tables(study)
    places = list(csv.DictReader(io.StringIO(tables["fault-places.csv"])))
    assert len(places) == sum(len(s.places) for s in study.split)
    paths = list(csv.DictReader(io.StringIO(tables["current-paths.csv"])))
    assert len(paths) == sum(len(s.result.paths) for s in study.split)
    from cmath import rect

    first = [p for p in paths if p["scenario"] == study.split[0].scenario]
    total = sum(rect(float(p["current_a"]), float(p["angle_deg"]) * pi / 180) for p in first)
    assert abs(total) < 1e-6  # printed with all digits
    assert len(list(csv.DictReader(io.StringIO(tables["towers.csv"])))) == sum(
        len(s.result.towers) for s in study.split
    )


def test_json_holds_split_and_places(study):
    data = json.loads(study.to_json())
    row = data["split"][0]
    assert isclose(
        row["result"]["gpr_v"][0] ** 2 + row["result"]["gpr_v"][1] ** 2, abs(study.split[0].result.gpr_v) ** 2
    )
    assert row["places"][0]["place"] == "in the station"
    assert row["table"]["lines"] == 2


def test_coupling_through_the_soil_is_shown_with_what_it_changes(study):
    """Every placed earth is a row of the CSV file; the chapter says rise and share with and without."""
    words = json.dumps(network(study), ensure_ascii=False)
    for piece in ("Coupling through the soil", "north line, tower 1", "Rise coupled", "Split alone"):
        assert piece in words
    rows = list(csv.DictReader(io.StringIO(study_tables(study)["soil-coupling.csv"])))
    placed = study.project.network.placed
    assert len(rows) == len(placed) * len(study.split)
    assert {r["earth"] for r in rows} == {e.label for e in placed}
    assert "soil-coupling.csv" not in study_tables(without_places(study))


def without_places(study):
    import dataclasses

    rows = tuple(dataclasses.replace(s, coupling=None) for s in study.split)
    return dataclasses.replace(study, split=rows)


def test_sentences_name_share_place_and_routes(study, cable_fed):
    words = split_sentence(study.split[0])
    assert words.startswith("110 kV single line to earth: ")
    assert "through the mat (fault in the station, worst of 69 places)" in words
    assert "north line" in words
    assert "neutral of T1" in words
    assert "intake cable 1" in split_sentence(cable_fed.split[0])


def test_a_back_up_case_shares_the_figure_of_its_fault(cable_fed):
    assert [s.scenario for s in cable_fed.split] == [
        "33 kV earth fault", "6.6 kV earth fault", "6.6 kV earth fault, back-up clearing",
    ]  # fmt: skip
    assert [s.scenario for s in own_splits(cable_fed)] == ["33 kV earth fault", "6.6 kV earth fault"]
    assert cable_fed.split[0].table is None  # the table of Annex C knows no cables


def test_reclosing_stands_in_the_table_of_faults(study):
    import dataclasses

    from evenground.deliver._report_inputs import faults
    from evenground.deliver._report_network import shots

    assert shots(study.faults) == []
    again = [
        dataclasses.replace(f, scenario=dataclasses.replace(f.scenario, reclosings=1)) for f in study.faults
    ]
    assert dict(shots(again))["Sum of the shots, shock"] == ["1 s", "1.4 s"]  # 0.5 s and 0.7 s, twice
    words = texts(faults(dataclasses.replace(study, faults=tuple(again))))
    assert "Unsuccessful reclosures" in words
