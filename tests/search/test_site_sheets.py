"""The ranking of many sites on paper: map, one page for each site, places in the project file."""

import copy
import io

import pytest
import yaml
from pypdf import PdfReader
from typer.testing import CliRunner

from evenground.cli._main import app
from evenground.deliver._plot_sites import map_figure
from evenground.deliver.portfolio_sheets import sites_pdf, sites_plots
from evenground.errors import InputError
from evenground.project import load_project
from evenground.search import SiteCheck, SiteResult, SiteRow


def row(name, verdict, margin, at=None, checks=30):
    """A site with many checks."""
    own = tuple(
        SiteCheck(f"touch voltage, zone {k}", "pass", 300.0, 400.0, "V", 0.25 + k) for k in range(checks)
    )
    result = SiteResult(verdict, "touch voltage, zone 0", margin, 0.8, 0.3, 0.5, 2000.0, checks=own)
    return SiteRow(f"{name}.yaml", result, result, f"Substation {name}", at)


ROWS = (
    row("reed", "fail", -0.2, (52.0, -1.0)),
    row("mill", "wrong input", None, checks=0),
    row("ash", "pass", 0.3, (53.0, 0.5)),
)


def test_every_site_has_one_page_after_the_ranking():
    pages = [p.extract_text() for p in PdfReader(io.BytesIO(sites_pdf(ROWS, "fault currents x 1.2"))).pages]
    assert len(pages) == 4
    assert "not on the map" in pages[0].lower()
    assert "mill.yaml" in pages[0]
    for page, name in zip(pages[1:], ("reed", "mill", "ash"), strict=True):
        assert f"Substation {name}" in page
    assert "6 further checks" in pages[1]


def test_the_map_shows_places_to_scale_and_colours_by_margin():
    axes = map_figure(ROWS, "as stated").axes[0]
    # a degree of longitude is cos(latitude) of a degree of latitude: geometry of the sphere
    assert axes.get_aspect() == pytest.approx(1 / 0.6088, rel=1e-3)  # cos 52.5 deg
    assert sorted(tuple(c.get_offsets()[0]) for c in axes.collections) == [(-1.0, 52.0), (0.5, 53.0)]
    reds = {c.get_label(): c.get_facecolors()[0] for c in axes.collections}
    assert reds["fail"][0] > reds["fail"][2]
    assert reds["pass"][2] > reds["pass"][0]
    assert [t.get_text() for t in axes.texts] == ["1", "3"]  # ranks
    assert sites_plots((ROWS[1],), "as stated") == {}


def test_the_place_of_a_site_in_its_file(tmp_path, pad_data):
    data = copy.deepcopy(pad_data)
    data["project"] |= {"latitude_deg": 52.25, "longitude_deg": -1.5}
    file = tmp_path / "pad.yaml"
    file.write_text(yaml.safe_dump(data, sort_keys=False))
    identity = load_project(file).identity
    assert (identity.latitude_deg, identity.longitude_deg) == (52.25, -1.5)
    found = CliRunner().invoke(
        app, ["portfolio", str(tmp_path), "--workers", "1", "--out", str(tmp_path / "out")]
    )
    assert found.exit_code in (0, 1, 3), found.output
    assert {p.name for p in (tmp_path / "out").iterdir()} == {"map.png", "sites.csv", "sites.pdf"}
    assert "52.25" in (tmp_path / "out" / "sites.csv").read_text()
    del data["project"]["longitude_deg"]
    file.write_text(yaml.safe_dump(data, sort_keys=False))
    with pytest.raises(InputError, match="go together"):
        load_project(file)
    data["project"] |= {"latitude_deg": 95, "longitude_deg": 0}
    file.write_text(yaml.safe_dump(data, sort_keys=False))
    with pytest.raises(InputError, match=r"latitude_deg"):
        load_project(file)
