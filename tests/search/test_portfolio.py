"""A folder of sites: ranking, changes in closed form, a run that ends early, other workers."""

import copy
import csv
import json
import sqlite3

import pytest
import yaml
from typer.testing import CliRunner

from evenground.cli._main import app
from evenground.errors import CancelledError, InputError
from evenground.project import load_project
from evenground.search import SiteChange, Store, assess_sites, project_files
from evenground.search._portfolio import with_change
from evenground.study import run_study


@pytest.fixture
def folder(tmp_path, pad_data):
    for name, current in (("north", 0.4), ("south", 1.6)):
        data = copy.deepcopy(pad_data)
        data["faults"][0]["current_ka"] = current
        (tmp_path / f"{name}.yaml").write_text(yaml.safe_dump(data, sort_keys=False))
    broken = copy.deepcopy(pad_data)
    broken["mats"][0]["depth_m"] = -3
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep" / "broken.yaml").write_text(yaml.safe_dump(broken, sort_keys=False))
    (tmp_path / "prices.yaml").write_text("currency: EUR\n")
    return tmp_path


def assess(folder, store, change=None, **more):
    return assess_sites(project_files(folder), change or SiteChange(), store, root=folder, **more)


def test_touch_is_in_proportion_to_the_current_and_every_site_has_a_row(folder):
    with Store(":memory:") as store:
        rows = assess(folder, store, SiteChange(current=1.25))
        assert len(store) == 4
    named = {r.site: r for r in rows}
    assert set(named) == {"north.yaml", "south.yaml", "deep/broken.yaml"}
    for name in ("north.yaml", "south.yaml"):
        row = named[name]
        # same metal, soil and limits, so touch goes with the current
        assert row.after.touch_over_limit == pytest.approx(1.25 * row.before.touch_over_limit, rel=1e-9)
        assert row.after.resistance_ohm == pytest.approx(row.before.resistance_ohm, rel=1e-12)
    ratio = named["south.yaml"].before.gpr_v / named["north.yaml"].before.gpr_v
    assert ratio == pytest.approx(4.0, rel=1e-9)
    assert named["deep/broken.yaml"].after.verdict == "wrong input"
    assert "depth" in named["deep/broken.yaml"].after.reason
    order = {"fail": 0, "wrong input": 1, "not decided": 2, "pass": 3}
    assert [order[r.after.verdict] for r in rows] == sorted(order[r.after.verdict] for r in rows)


def test_a_longer_clearing_time_and_another_body_against_the_formula(folder):
    # IEEE Std 80-2013, eq. (29): bare soil, 50 kg: touch limit (1000 + 1.5 rho) 0.116 / sqrt(t)
    project = load_project(folder / "north.yaml")
    changed = run_study(with_change(project, SiteChange(time=2.0)))
    assert changed.limits[0].touch_v == pytest.approx((1000 + 1.5 * 100) * 0.116 / 1.0**0.5, rel=1e-9)
    heavy = run_study(with_change(project, SiteChange(standard="ieee80_70kg")))
    assert heavy.limits[0].touch_v == pytest.approx((1000 + 1.5 * 100) * 0.157 / 0.5**0.5, rel=1e-9)


def test_a_fall_of_the_current_is_put_on_the_stated_value(folder):
    project = load_project(folder / "north.yaml")
    changed = with_change(project, SiteChange(current=0.5)).faults[0]
    assert (changed.current_a, changed.growth_factor) == (200.0, 1.0)
    with pytest.raises(InputError, match="not between 0 and 100"):
        with_change(project, SiteChange(time=-1.0))
    with pytest.raises(InputError, match="not known"):
        with_change(project, SiteChange(standard="somewhere"))


@pytest.mark.slow
def test_a_run_that_ends_early_continues_where_it_was(folder):
    file, change, ran = folder / "kept.sqlite", SiteChange(time=1.5), []

    def stop(text, done):
        if "north" in text:
            raise CancelledError("stopped")

    def counted(project):
        ran.append(project.file_name)
        return run_study(project)

    with Store(file) as store, pytest.raises(CancelledError, match="stopped"):
        assess(folder, store, change, progress=stop, study=counted)
    assert len(ran) == 1
    with Store(file) as store:
        assert len(store) == 1
        continued = assess(folder, store, change, study=counted)
        assert len(ran) == 4
        assert assess(folder, store, change, study=counted) == continued
        assert len(ran) == 4
        text = (folder / "north.yaml").read_text().replace("spacing_m: 6", "spacing_m: 4")
        (folder / "north.yaml").write_text(text)
        assess(folder, store, change, study=counted)
    assert len(ran) == 6  # the site that was edited, as stated and changed
    with Store(":memory:") as store:
        fresh = assess(folder, store, change)
    assert {r.site: r.after for r in fresh}["south.yaml"] == {r.site: r.after for r in continued}[
        "south.yaml"
    ]


@pytest.mark.slow
def test_results_do_not_depend_on_the_number_of_workers(folder, agree):
    with Store(":memory:") as one, Store(":memory:") as two:
        alone = assess(folder, one, SiteChange(current=1.1))
        agree(assess(folder, two, SiteChange(current=1.1), workers=2), alone)


def test_a_foreign_database_is_left_alone(tmp_path):
    file = tmp_path / "other.sqlite"
    base = sqlite3.connect(file)
    base.execute("create table mine (a)")
    base.commit()
    base.close()
    before = file.read_bytes()
    with pytest.raises(InputError, match="something else"):
        Store(file)
    assert file.read_bytes() == before
    (tmp_path / "text.sqlite").write_text("no database at all, but long enough to be taken for one " * 40)
    with pytest.raises(InputError, match="can not be used"):
        Store(tmp_path / "text.sqlite")
    with pytest.raises(InputError, match="no project file"):
        project_files(tmp_path)


def test_the_command_ranks_writes_and_ends_with_the_worst(folder):
    table = folder / "sites.csv"
    options = ["portfolio", str(folder), "--current", "1.25", "--workers", "1", "--csv", str(table)]
    found = CliRunner().invoke(app, options)
    with table.open() as handle:
        rows = list(csv.DictReader(handle))
    verdicts = {r["changed_verdict"] for r in rows}
    assert found.exit_code == (1 if "fail" in verdicts else 2)
    assert len(rows) == 3
    base = sqlite3.connect(folder / "portfolio.sqlite")
    kept = [json.loads(d) for (d,) in base.execute("select data from results where change = 'as stated'")]
    base.close()
    assert len(kept) == 2
    assert "of 3 sites" in found.stdout
