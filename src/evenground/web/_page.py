"""The window: head, verdict, plan and profile at the left, panels at the right, caution at the foot."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine
from pathlib import Path
from typing import Any

from nicegui import background_tasks, context, ui

from evenground.errors import EvengroundError
from evenground.model._serial import CAUTION
from evenground.web._backdrop import read_backdrop, signature, taken_lines
from evenground.web._charts import profile_chart
from evenground.web._desk import Desk
from evenground.web._file_state import FileBar
from evenground.web._panel_drawing import build_drawing
from evenground.web._panel_files import build_files, fetch, hand_over
from evenground.web._panel_inputs import build_conductors, build_faults, build_limits, build_project
from evenground.web._panel_layout import build_layout
from evenground.web._panel_network import build_current
from evenground.web._panel_potential import build_potential
from evenground.web._panel_quantities import build_quantities
from evenground.web._panel_result import build_formulas, build_result
from evenground.web._panel_site import build_lightning, build_site
from evenground.web._panel_soil import build_soil
from evenground.web._panel_start import build_start
from evenground.web._panel_variants import build_variants
from evenground.web._studio import Studio
from evenground.web._verdict import fill_verdict, standing
from evenground.web._words import marks

__all__ = ["Plan", "Window", "build_page"]

STATIC = Path(__file__).parent / "static"


class Plan(ui.element, component="static/plan.js"):
    """The plan; see ``static/plan.js``. Draws, and sends edit commands."""


PANELS: dict[str, Callable[[Any], None]] = {
    "Start": build_start,
    "Result": build_result,
    "Layout": build_layout,
    "Drawing": build_drawing,
    "Site": build_site,
    "Soil": build_soil,
    "Faults": build_faults,
    "Current": build_current,
    "Conductors": build_conductors,
    "Limits": build_limits,
    "Lightning": build_lightning,
    "Potential": build_potential,
    "Quantities": build_quantities,
    "Variants": build_variants,
    "Formulas": build_formulas,
    "Files": build_files,
    "Project": build_project,
}
SHOWN_NEW = {
    "add_mat": "mats",
    "add_cover": "surface",
    "add_fence": "fences",
    "add_gate": "gates",
    "add_item": "equipment",
}
"""A new object of these kinds is shown in the panel at once, to be completed."""
ON_TEXT = set(PANELS) - {"Result", "Quantities", "Variants", "Formulas"}
ON_RESULT = set(PANELS) - {"Layout", "Faults", "Project", "Files"}
JUDGED = ON_RESULT - {"Start", "Drawing", "Variants"}
"""Panels of results; a mark on them says so when these are not those of the present plan."""


def build_page(studio: Studio) -> None:
    """One browser window onto the open project."""
    Window(studio)


class Window:
    """What one browser window shows. Several windows share the studio."""

    def __init__(self, studio: Studio) -> None:
        self.studio = studio
        self.client = context.client
        self.picked: list[str] = []
        self.panel = studio.panel
        self.own_edit = self.typing = self.waiting = False
        self.opened: set[tuple[str | int, ...]] = set()
        self.fault = ""
        self.profile = 0
        self.mode = ui.dark_mode(None)
        self.dark = False
        ui.add_css((STATIC / "style.css").read_text(encoding="utf-8"))
        self.build()
        studio.desk.listeners.append(self.heard)
        self.client.on_delete(self._gone)
        ui.timer(0.2, self._theme_known, once=True)

    def _gone(self) -> None:
        if self.heard in self.studio.desk.listeners:
            self.studio.desk.listeners.remove(self.heard)

    # frame

    def build(self) -> None:
        """The frame of the page."""
        ui.query("body").classes("eg")
        ui.add_head_html(f"<script>{(STATIC / 'keys.js').read_text(encoding='utf-8')}</script>")
        with ui.element("div").classes("eg-frame"):
            with ui.element("header").classes("eg-head"):
                self.bar = FileBar(self)
            self.verdict = (
                ui.element("section")
                .classes("eg-verdict")
                .props('role="status" aria-live="polite" aria-label="Verdict"')
            )
            with ui.element("main").classes("eg-main"):
                with ui.element("div").classes("eg-left"):
                    with ui.element("section").classes("eg-plan-box").props('aria-label="Plan"'):
                        self.plan = Plan().classes("eg-plan-host")
                        self.plan.on("edit", lambda e: self.command(e.args))
                        self.plan.on("pick", lambda e: self._picked(e.args))
                        self.plan.on("mark", lambda e: self._mark(e.args))
                    with ui.element("section").classes("eg-profile").props('aria-label="Profile"'):
                        self._profile_box()
                with ui.element("aside").classes("eg-right"):
                    tabs = ui.tabs(on_change=lambda e: self.open_panel(e.value))
                    tabs.props("vertical no-caps dense").classes("eg-tabs")
                    self.tabs = tabs
                    with tabs:
                        for name in PANELS:
                            ui.tab(name)
                    self.panel_box = (
                        ui.element("div")
                        .classes("eg-panel")
                        .props('tabindex="0" role="region" aria-label="Panel"')
                    )
                    # a list of answers holds the panel only while it is open
                    typing = (
                        "(e) => e.target.matches('input:not(.q-select__focus-target), textarea') && emit()"
                    )
                    self.panel_box.on("focusin", self.typing_on, js_handler=typing)
                    self.panel_box.on("focusout", self.typing_off, js_handler=typing)
                    self.standing = ui.label("").classes("eg-standing")
            self.dialogs = ui.element("div").classes("eg-dialogs")
            with ui.element("footer").classes("eg-caution"):
                ui.label(CAUTION)
        self.refresh_plan()
        self.refresh_result()
        self.background(self.refresh_backdrop())
        tabs.set_value(self.panel)

    def _profile_box(self) -> None:
        with ui.element("div").classes("eg-profile-head"):
            self.profile_name = ui.select(
                {0: "—"}, value=0, label="Profile", on_change=lambda e: self._profile(e.value)
            )
            self.profile_name.props("dense outlined options-dense").classes("eg-profile-name")
            self.profile_note = ui.label("").classes("eg-soft")
            self.profile_standing = ui.label("").classes("eg-stale-note")
        self.chart = ui.plotly(profile_chart(None, self.dark)).classes("eg-chart")
        self.chart.props(
            'role="img" aria-label="Touch and step voltage along the profile, with their limits"'
        )

    async def _theme_known(self) -> None:
        """Charts take the colours of the theme that the browser prefers."""
        try:
            dark = await ui.run_javascript("document.body.classList.contains('body--dark')", timeout=3.0)
        except TimeoutError:
            return
        if bool(dark) != self.dark:
            self.dark = bool(dark)
            self.refresh_result()

    def toggle_theme(self) -> None:
        """Dark to light and back."""
        self.dark = not self.dark
        self.mode.value = self.dark
        self.refresh_result()

    # events of the desk

    def heard(self, what: str) -> None:
        """Follow the desk."""
        if self.client.id not in self.client.instances:
            return
        with self.client:
            if what == "text":
                self.refresh_plan()
                self.background(self.refresh_backdrop())
                self.bar.refresh()
                self.refresh_verdict()
                if self.panel in ON_TEXT and not self.own_edit:
                    self.show_panel()
            elif what == "result":
                self.refresh_result()
            elif what == "progress":
                self.refresh_verdict()
            elif what == "file":
                self.bar.refresh()

    async def refresh_backdrop(self) -> None:
        """Send the site drawing to the plan, read again only when it or its section has changed."""
        studio, folder = self.studio, self.studio.desk.path.parent
        key = signature(studio.desk.data, folder)
        if not key:
            studio.backdrop = None
        elif studio.backdrop is None or studio.backdrop.key != key:
            section = studio.desk.data["site_drawing"]
            studio.backdrop = await asyncio.to_thread(read_backdrop, section, folder, key)
            if self.panel == "Drawing":
                self.show_panel()
        self._send_backdrop()

    def _send_backdrop(self) -> None:
        desk, backdrop = self.studio.desk, self.studio.backdrop
        shown = dict(backdrop.shown) if backdrop is not None else {}
        if desk.outcome is not None and desk.outcome.study.project.site_drawing is not None and shown:
            shown |= taken_lines(desk.outcome.study.project)
        if self.plan.props.get("backdrop", {}) != shown:
            self.plan.props["backdrop"] = shown
            self.plan.update()

    def refresh_plan(self) -> None:
        """Send the layout to the plan."""
        self.plan.props["view"] = self.studio.desk.view
        self.plan.props["stale"] = not self.studio.desk.current
        self.plan.update()

    def refresh_result(self) -> None:
        """Send the result to the plan, the verdict, the profile and the open panel."""
        desk = self.studio.desk
        if desk.outcome is not None:
            self.plan.props["layers"] = desk.outcome.layers
            self.plan.props["marks"] = marks(desk.outcome.study)
            self.plan.props["stale"] = not desk.current
            self.plan.update()
            self._profiles(desk)
            self._send_backdrop()
        self.refresh_verdict()
        self.bar.refresh()
        if self.panel in ON_RESULT:
            self.show_panel_later()

    def refresh_verdict(self) -> None:
        """The line that says how it stands, and what the numbers of the panel and the profile belong to."""
        fill_verdict(self)
        words = standing(self.studio.desk)
        self.standing.set_text(words if self.panel in JUDGED else "")
        self.profile_standing.set_text(words)

    # profile

    def _profiles(self, desk: Desk) -> None:
        assert desk.outcome is not None
        profiles = desk.outcome.study.profiles
        self.profile_name.set_options({i: p.name for i, p in enumerate(profiles)})
        if self.profile >= len(profiles):
            self.profile = 0
        self.profile_name.set_value(self.profile)
        self._profile(self.profile)

    def _profile(self, number: int | None) -> None:
        outcome = self.studio.desk.outcome
        if outcome is None or number is None or not outcome.study.profiles:
            return
        self.profile = min(number, len(outcome.study.profiles) - 1)
        self.profile_note.set_text(
            f"fault “{outcome.study.map.scenario}”; draw further lines with the tool Profile"
        )
        self.chart.update_figure(profile_chart(outcome.study.profiles[self.profile], self.dark))

    # panels

    def open_panel(self, name: str) -> None:
        """Open a panel."""
        self.panel = self.studio.panel = str(name)
        self.standing.set_text(standing(self.studio.desk) if self.panel in JUDGED else "")
        self.show_panel()

    def show_panel(self) -> None:
        """Build the open panel anew."""
        self.waiting = self.typing = False
        self.panel_box.clear()
        with self.panel_box:
            PANELS[self.panel](self)

    def show_if_open(self, panel: str) -> None:
        """Build this panel anew if it is the open one and the window is still there."""
        if self.panel == panel and self.client.id in self.client.instances:
            self.show_panel()

    def show_panel_later(self) -> None:
        """Build the open panel anew, but not under the hands of somebody who types into it."""
        if self.typing:
            self.waiting = True
        else:
            self.show_panel()

    def typing_on(self) -> None:
        """Somebody types or chooses in the panel: it is not built anew meanwhile."""
        self.typing = True

    def typing_off(self) -> None:
        """The panel may be built anew."""
        self.typing = False
        if self.waiting:
            ui.timer(0.4, self._typed, once=True)

    def _typed(self) -> None:
        if self.waiting and not self.typing:
            self.show_panel()

    # acts

    def act(self, change: Callable[[Desk], Any], *, own: bool = False) -> bool:
        """Make a change; what stands against it is shown in words. Returns whether it was made."""
        self.own_edit = own
        try:
            change(self.studio.desk)
        except (EvengroundError, OSError) as error:
            self.warn(str(error))
            return False
        finally:
            self.own_edit = False
        return True

    def command(self, command: Any) -> None:
        """An edit command, from the plan or a panel."""
        revision = command.get("revision") if isinstance(command, dict) else None
        if not self.act(lambda d: d.command(command, revision if isinstance(revision, int) else None)):
            self.refresh_plan()
        elif isinstance(command, dict) and command.get("do") in SHOWN_NEW:
            section = SHOWN_NEW[str(command["do"])]
            last = max(
                (i["id"] for i in self.studio.desk.view["items"] if i["id"].startswith(f"{section}/")),
                key=lambda i: int(i.split("/")[1]),
                default="",
            )
            self.picked = [last] if last else []
            self.tabs.set_value("Layout")
            self.show_panel()

    def warn(self, words: str) -> None:
        """A message that stays until it is read."""
        with self.client:
            ui.notify(
                words, type="warning", multi_line=True, timeout=9000, close_button="Close", position="top"
            )

    def say(self, words: str) -> None:
        """A short message."""
        with self.client:
            ui.notify(words, timeout=6000, position="top")

    def _picked(self, identities: Any) -> None:
        self.picked = [str(i) for i in identities][:20000] if isinstance(identities, list) else []
        if self.picked and self.panel != "Layout" and len(self.picked) == 1:
            self.tabs.set_value("Layout")
        elif self.panel == "Layout":
            self.show_panel()

    def pick(self, identities: list[str]) -> None:
        """Pick objects on the plan."""
        self.picked = identities
        self.plan.run_method("select", identities)

    def _mark(self, name: Any) -> None:
        outcome = self.studio.desk.outcome
        if outcome is None:
            return
        from evenground.web._panel_result import show_steps

        for check in outcome.study.checks:
            if check.identity == name:
                show_steps(self, outcome.study, check)

    def point_at(self, check: Any) -> None:
        """Bring the place of a check to the middle of the plan."""
        kind = "step" if check.identity.startswith("step") else "touch"
        self.plan.run_method("look", [check.place.x_m, check.place.y_m], kind)

    def background(self, work: Coroutine[Any, Any, Any]) -> None:
        """Run something beside the window; it may touch the window's elements."""

        async def inside() -> None:
            with self.client:
                await work

        background_tasks.create(inside())

    async def result_files(self) -> None:
        """Compute, write and hand over the result files."""
        self.say("The result files are being made.")
        if await fetch(self):
            hand_over(self)
