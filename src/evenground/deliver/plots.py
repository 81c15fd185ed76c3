"""Plots for report and result folder, drawn with matplotlib's object interface.

Every function takes shapes and returns a matplotlib ``Figure``; :func:`save_figure` writes it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from evenground.deliver._figure import figure_bytes, save_figure
from evenground.deliver._plot_boundary import boundary_figures
from evenground.deliver._plot_depth import section_figure
from evenground.deliver._plot_map import potential_figure, utilisation_figure
from evenground.deliver._plot_network import SWEPT, current_figure, rise_figure
from evenground.deliver._plot_plan import plan_figure, profile_figure
from evenground.deliver._plot_shielding import shielding_figures
from evenground.deliver._plot_soil import sounding_figure
from evenground.deliver._plot_tests import test_figures
from evenground.deliver._report_network import own_splits
from evenground.deliver._speak import speak_figure, study_language

if TYPE_CHECKING:
    from evenground.model.study import Study

__all__ = [
    "current_figure",
    "figure_bytes",
    "plan_figure",
    "potential_figure",
    "profile_figure",
    "rise_figure",
    "save_figure",
    "section_figure",
    "sounding_figure",
    "study_figures",
    "utilisation_figure",
]


def study_figures(study: Study) -> dict[str, Callable[[], Any]]:
    """File stem -> function that draws the figure, in the order of the report."""
    figures: dict[str, Callable[[], Any]] = {
        "plan": lambda: plan_figure(study),
        "sounding": lambda: sounding_figure(study.soil),
        "map-touch": lambda: utilisation_figure(study, "touch"),
        "map-step": lambda: utilisation_figure(study, "step"),
        "map-potential": lambda: potential_figure(study),
    }
    if not (study.soil.readings or study.soil.curves_ohm_m):
        del figures["sounding"]
    for number, split in enumerate(own_splits(study), start=1):
        figures[f"current-{number}"] = lambda s=split: current_figure(s, study.project.network)  # type: ignore[misc]
        if len(split.places) > SWEPT:
            figures[f"rise-{number}"] = lambda s=split: rise_figure(s)  # type: ignore[misc]
    figures |= boundary_figures(study)
    for number, profile in enumerate(study.profiles, start=1):
        figures[f"profile-{number}"] = lambda p=profile: profile_figure(p, study.map.scenario)  # type: ignore[misc]
    for number, section in enumerate(study.sections, start=1):
        figures[f"section-{number}"] = lambda s=section: section_figure(study, s)  # type: ignore[misc]
    figures |= shielding_figures(study) | test_figures(study)
    words = study_language(study)
    return {name: lambda d=drawn: speak_figure(d(), words) for name, drawn in figures.items()}  # type: ignore[misc]
