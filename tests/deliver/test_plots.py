"""Plots: well-formed SVG, the same every time, and honest about what they show."""

import dataclasses
import itertools
import struct
import sys
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from evenground.deliver._plot_map import thinned
from evenground.deliver._typeset import pictures_from_svg
from evenground.deliver.plots import (
    figure_bytes,
    plan_figure,
    save_figure,
    sounding_figure,
    study_figures,
    utilisation_figure,
)


def texts(figure):
    """Every text of a figure, legends included."""
    from matplotlib.text import Text

    return " | ".join(t.get_text() for t in figure.findobj(Text) if t.get_text())


@pytest.fixture(scope="module")
def pictures(study):
    return {stem: figure_bytes(draw(), "svg") for stem, draw in study_figures(study).items()}


def test_every_plot_is_well_formed_svg(pictures):
    assert {"plan", "sounding", "map-touch", "map-step", "map-potential", "profile-1"} <= set(pictures)
    for data in pictures.values():
        root = ET.fromstring(data)
        assert root.tag.endswith("svg")
        assert root.get("viewBox")


def test_the_same_study_gives_the_same_bytes_without_a_date(study, pictures):
    again = figure_bytes(study_figures(study)["map-touch"](), "svg")
    assert again == pictures["map-touch"]
    assert b"dc:date" not in again


def test_svg_text_needs_no_font(pictures):
    assert all(b"<text" not in data for data in pictures.values())


def test_pictures_have_the_size_of_the_plots(pictures):
    png = pictures_from_svg({"plan": pictures["plan"], "sounding": pictures["sounding"]})
    for stem, data in png.items():
        assert data[:8] == b"\x89PNG\r\n\x1a\n"
        width = struct.unpack(">I", data[16:20])[0]
        points = float(ET.fromstring(pictures[stem]).get("width").removesuffix("pt"))
        assert width == pytest.approx(points / 72 * 160, abs=2)  # rounded to whole pixels


def test_pyplot_is_never_loaded():
    assert "matplotlib.pyplot" not in sys.modules


def test_touch_map_names_limit_standard_and_worst_place(study):
    words = texts(utilisation_figure(study, "touch"))
    worst = max(
        (s for s in study.shocks if s.quantity == "touch" and s.scenario == study.map.scenario),
        key=lambda s: s.value_v / s.limit_v,
    )
    assert "IEEE Std 80" in words
    assert "2013" in words
    assert study.map.scenario in words
    assert f"{100 * worst.value_v / worst.limit_v:.0f} % of the limit" in words
    assert "limit reached (100 %)" in words
    assert "above the limit" in words


def test_a_map_below_the_limit_says_so_and_a_missed_worst_place_too(study):
    low = dataclasses.replace(study.map, step_utilisation=0.4 * np.ones_like(study.map.potential))
    under = tuple(dataclasses.replace(s, value_v=0.4 * s.limit_v) for s in study.shocks)
    below = dataclasses.replace(study, map=low, shocks=under)
    assert "limit is not reached in the area" in texts(utilisation_figure(below, "step"))
    over = tuple(dataclasses.replace(s, value_v=2 * s.limit_v) for s in study.shocks)
    missed = texts(utilisation_figure(dataclasses.replace(below, shocks=over), "step"))
    assert "worst place exceeds the limit" in missed
    assert "limit is not reached" not in missed


def test_light_means_low_and_dark_means_high(study):
    """Lightness falls over the levels, so that the map reads in grey (luma weights: ITU-R BT.709)."""
    from matplotlib.contour import ContourSet

    figure = utilisation_figure(study, "touch")
    filled = next(c for c in figure.axes[0].findobj(ContourSet) if c.filled)
    luma = [0.2126 * r + 0.7152 * g + 0.0722 * b for r, g, b, _ in filled.cmap.colors]
    assert all(a > b for a, b in itertools.pairwise(luma))


def test_sounding_shows_left_out_readings_hollow_and_the_chosen_model(study):
    figure = sounding_figure(study.soil)
    words = texts(figure)
    assert "hollow: left out of the fit" in words
    rms = next(c.rms for c in study.soil.candidates if c.name == study.soil.chosen)
    assert f"{study.soil.chosen}, rms {100 * rms:.1f} % (chosen)" in words
    for traverse in {r.traverse for r in study.soil.readings}:
        assert traverse in words
    hollow = [
        line
        for line in figure.axes[0].lines
        if line.get_markerfacecolor() == "white" and len(line.get_xdata()) > 0
    ]
    assert sum(len(line.get_xdata()) for line in hollow) == 1


def test_user_text_is_never_read_as_mathematics(study):
    zone = dataclasses.replace(study.project.surface[0], name=r"$\frac{1}$ _^ #", material="$x")
    project = dataclasses.replace(study.project, surface=(zone,))
    figure = plan_figure(dataclasses.replace(study, project=project))
    assert r"$\frac{1}$" in texts(figure)
    assert figure_bytes(figure, "svg")


def test_a_fine_raster_is_thinned_by_the_largest_value():
    x = np.arange(1000.0)
    y = np.arange(700.0)
    values = np.zeros((700, 1000))
    values[411, 733] = 9.0
    values[:50] = np.nan
    tx, ty, kept = thinned(x, y, values)
    assert kept.shape == (len(ty), len(tx))
    assert max(kept.shape) <= 320
    assert np.nanmax(kept) == 9.0
    assert np.isnan(kept[0]).all()


def test_pictures_are_saved_by_their_suffix(study, tmp_path):
    figure = sounding_figure(study.soil)
    save_figure(figure, tmp_path / "a.png")
    save_figure(figure, tmp_path / "a.svg")
    assert (tmp_path / "a.png").read_bytes()[:4] == b"\x89PNG"
    assert ET.parse(tmp_path / "a.svg").getroot().tag.endswith("svg")
    with pytest.raises(ValueError, match=r"\.svg or \.png"):
        save_figure(figure, tmp_path / "a.pdf")
    assert {p.name for p in tmp_path.iterdir()} == {"a.png", "a.svg"}
