"""Panel “Start”: the way from an empty file to a checked report, and how far this project is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from nicegui import ui

from evenground.model.study import Verdict

if TYPE_CHECKING:
    from evenground.web._desk import Desk
    from evenground.web._page import Window

__all__ = ["Stage", "build_start", "stages"]


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the way: done or not, why, and the panel where it is done."""

    title: str
    done: bool
    words: str
    panel: str


def _rows(data: Any, *path: str) -> list[Any]:
    for part in path:
        data = data.get(part) if isinstance(data, dict) else None
    return data if isinstance(data, list) else []


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def stages(desk: Desk) -> list[Stage]:
    """The stages of a project with what is there of each."""
    data = desk.data if isinstance(desk.data, dict) else {}
    soil: Any = data.get("soil") if isinstance(data.get("soil"), dict) else {}
    readings = sum(
        len(_rows(t, "readings")) or bool(isinstance(t, dict) and t.get("readings_file"))
        for t in _rows(soil, "traverses")
    )
    given = bool((soil.get("model") or {}).get("given")) if isinstance(soil.get("model"), dict) else False
    faults, mats = _rows(data, "faults"), _rows(data, "mats")
    metal = len(mats) + len(_rows(data, "runs")) + len(_rows(data, "rods"))
    drawing = isinstance(data.get("site_drawing"), dict)
    covers = _rows(data, "surface")
    site = [k for k in ("equipment", "fences", "services") if data.get(k) is not None]
    study = desk.outcome.study if desk.outcome is not None and desk.current else None
    passed = study is not None and study.verdict is Verdict.PASS
    verdict = {Verdict.PASS: "within the limits checked", Verdict.FAIL: "a limit is broken"}
    return [
        Stage(
            "Soil",
            bool(readings or given),
            _count(readings, "reading") if readings else "a stated model" if given else
            "Paste the readings of the survey, or state a model with its reason.",
            "Soil",
        ),
        Stage(
            "Faults",
            bool(faults),
            f"{_count(len(faults), 'fault')}: check current, shock time, thermal time and X/R of each."
            if faults else "State each earth fault with its currents and times.",
            "Faults",
        ),
        Stage(
            "Conductors",
            bool(data.get("conductors")),
            "Metal, joint and section of each kind; without a section the program takes a stock size.",
            "Conductors",
        ),
        Stage(
            "Layout",
            bool(metal or drawing),
            f"{_count(len(mats), 'mat')}, {metal - len(mats)} other entries" if metal else
            "Draw the outline of the yard as a mat, or take the conductors over from a site drawing.",
            "Layout" if metal or not drawing else "Drawing",
        ),
        Stage(
            "Cover",
            bool(covers),
            _count(len(covers), "zone") if covers else "Bare soil everywhere. State crushed rock or paving.",
            "Layout",
        ),
        Stage(
            "Site",
            len(site) == 3,
            "equipment, fences and services are stated" if len(site) == 3 else
            "Not stated yet: "
            + ", ".join(k for k in ("equipment", "fences", "services") if k not in site)
            + ". What is not there is declared in the panel Project.",
            "Site",
        ),
        Stage(
            "Result",
            passed,
            verdict.get(study.verdict, "not decided") if study is not None else "not computed yet",
            "Result",
        ),
        Stage(
            "Report",
            False,
            "Make the files, have a licensed engineer check them, and keep them with the project.",
            "Files",
        ),
    ]  # fmt: skip


def build_start(window: Window) -> None:
    """The stages as a list; each leads to its panel."""
    ui.label(
        "From the survey to a report that can be checked. Any order will do; the result follows each edit."
    ).classes("eg-soft")
    with ui.element("ol").classes("eg-stages"):
        for stage in stages(window.studio.desk):
            with ui.element("li").classes("done" if stage.done else ""):
                ui.label("✓" if stage.done else "○").classes("eg-sign").props('aria-hidden="true"')
                with ui.element("div").classes("eg-stage-words"):
                    with ui.element("h3"):
                        ui.label(stage.title + (", there" if stage.done else ", open"))
                    ui.label(stage.words)
                ui.button("Open", on_click=lambda s=stage: window.tabs.set_value(s.panel)).props(
                    f'flat dense no-caps aria-label="Open the panel {stage.panel}: {stage.title}"'
                )
    ui.label("Working on the plan").classes("eg-h")
    with ui.element("ul").classes("eg-list"):
        for words in (
            "Keys 1 to 9 choose a tool; Enter ends a line; Esc gives up; Ctrl+Z takes back.",
            "Type a place as 12.5, 8 or a step as +5, 0; feet are understood: 40 ft, 26 ft.",
            "T and S on the plan mark the worst touch and step; click one to see why.",
            "Number fields take other units: 12 ft, 4/0 AWG, 250 kcmil, 5200 A. They are stored in SI units.",
        ):
            with ui.element("li"):
                ui.label(words)
