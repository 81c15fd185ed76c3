"""The main journeys in a real browser."""

import re
import subprocess
import sys
import urllib.error
import urllib.request
from pathlib import Path

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from evenground.project import load_project, starter_text

from .conftest import Page, Server, make_driver, settle, small_site

pytestmark = pytest.mark.slow
PANELS = (
    "Start", "Result", "Layout", "Drawing", "Site", "Soil", "Faults", "Current", "Conductors", "Limits",
    "Lightning", "Potential", "Quantities", "Variants", "Formulas", "Files", "Project",
)  # fmt: skip


def test_the_answer_comes_with_its_scope_and_the_caution_and_nothing_leaves_the_machine(page, server):
    page.open(server.address)
    page.computed()
    verdict = page.text(".eg-verdict")
    assert re.search(r"limits that were checked|limits checked", verdict)
    assert "subjects not checked" in verdict
    assert "licensed engineer must check" in page.text(".eg-caution")
    for name in PANELS:
        page.panel(name)
        assert not re.search(r"\bsafe\b", page.text("body"), re.IGNORECASE)
    outside = [
        u
        for u in page.requests()
        if not re.match(rf"(https?|ws)://127\.0\.0\.1:{server.port}/|data:|blob:", u)
    ]
    assert outside == []
    assert page.errors() == []


def test_it_listens_on_this_machine_only_and_asks_for_the_key(server):
    port = f"{server.port:04X}"
    rows = [
        r.split() for name in ("tcp", "tcp6") for r in Path(f"/proc/net/{name}").read_text().splitlines()[1:]
    ]
    listening = {r[1].split(":")[0] for r in rows if r[3] == "0A" and r[1].endswith(f":{port}")}
    assert listening == {"0100007F"}
    for path in ("/", "/_nicegui/", "/../../etc/passwd", "/site.yaml"):
        with pytest.raises(urllib.error.HTTPError, match="403"):
            urllib.request.urlopen(f"http://127.0.0.1:{server.port}{path}", timeout=10)


def point(page, x, y):
    """A place of the plan in pixels of the window."""
    box = page.driver.execute_script(
        "const r = document.querySelector('.eg-sheet').getBoundingClientRect();"
        "const m = document.querySelector('.eg-sheet svg g[transform*=scale]').getAttribute('transform')"
        ".match(/translate\\(([^,]+),([^)]+)\\) scale\\(([^,]+)/).slice(1).map(Number);"
        "return [r.x, r.y, ...m]"
    )
    return box[0] + box[2] + box[4] * x, box[1] + box[3] - box[4] * y


def click(page, x, y):
    """Click at plan coordinates."""
    px, py = point(page, x, y)
    acts = ActionChains(page.driver, duration=20)
    acts.w3c_actions.pointer_action.move_to_location(round(px), round(py))
    acts.w3c_actions.pointer_action.click()
    acts.perform()
    settle(0.15)


def keys(page, *what):
    ActionChains(page.driver).send_keys(*what).perform()
    settle(0.15)


def control(page, key):
    ActionChains(page.driver).key_down(Keys.CONTROL).send_keys(key).key_up(Keys.CONTROL).perform()
    settle(0.3)


def test_draw_undo_type_coordinates_and_save(page, tmp_path):
    server = Server(small_site(tmp_path))
    try:
        page.open(server.address)
        count, rods = len(load_project(server.file).runs), page.rods()
        page.driver.execute_script("document.querySelector('[data-tool=rod]').click()")
        click(page, 2, -2)
        page.wait(lambda: "not saved" in page.text(".eg-file"))
        page.wait(lambda: page.rods() == rods + 1)
        control(page, "z")
        page.wait(lambda: page.rods() == rods)
        assert "not saved" not in page.text(".eg-file")
        page.driver.execute_script("document.querySelector('[data-tool=run]').click()")
        entry = page.all(".eg-entry")[0]
        entry.send_keys("-3, -3", Keys.ENTER)
        entry.send_keys("+12.5, 0", Keys.ENTER)
        entry.send_keys(Keys.ENTER)
        page.wait(lambda: "not saved" in page.text(".eg-file"))
        control(page, "s")
        page.wait(lambda: "— saved" in page.text(".eg-file"))
        project = load_project(server.file)
        assert project.runs[count].points_m == ((-3, -3), (9.5, -3))
        comments = [x for x in starter_text("plant").splitlines() if x.lstrip().startswith("#")]
        assert [x for x in server.file.read_text().splitlines() if x.lstrip().startswith("#")] == comments
        assert page.errors() == []
    finally:
        server.stop()


def test_an_edit_in_a_form_changes_the_answer_and_a_wrong_one_is_said_in_words(page, tmp_path):
    server = Server(small_site(tmp_path))
    try:
        page.open(server.address)
        page.computed()
        page.panel("Limits")
        before = page.text(".eg-table")
        page.panel("Faults")
        entry = field_named(page, "Shock time")
        control_select(entry, "0,4")
        page.wait(lambda: "with a point, as 0.4" in page.text("body"))
        page.wait(lambda: "The file keeps" in page.text(".eg-panel .q-field--error"))
        control_select(entry, "1e999")
        page.wait(lambda: "larger than any quantity" in page.text(".eg-panel .q-field--error"))
        control_select(entry, "0.05")
        page.wait(lambda: "not saved" in page.text(".eg-file"))
        page.wait(lambda: not page.all(".eg-panel .q-field--error"))
        page.computed()
        page.panel("Limits")
        assert page.text(".eg-table") != before
        assert not page.text(".eg-standing")
        page.panel("Faults")
        control_select(field_named(page, "Shock time"), "-1")
        page.wait(lambda: "Before the last edit" in page.text(".eg-verdict"))
        page.panel("Limits")
        assert "before the last edit" in page.text(".eg-standing")
    finally:
        server.stop()


def field_named(page, words):
    script = (
        "return [...document.querySelectorAll('.eg-panel .q-field')]"
        ".find(e => e.innerText.includes(arguments[0])).querySelector('input')"
    )
    return page.driver.execute_script(script, words)


def control_select(entry, text):
    entry.send_keys(Keys.CONTROL, "a")
    entry.send_keys(text, Keys.ENTER)
    settle()


def test_a_foreign_change_two_windows_and_recovery_after_a_kill(page, tmp_path):
    file = small_site(tmp_path)
    server = Server(file)
    second = make_driver()
    try:
        other = Page(second)
        page.open(server.address)
        other.open(server.address)
        rods = page.rods()
        page.driver.execute_script("document.querySelector('[data-tool=rod]').click()")
        click(page, 1, -2)
        other.wait(lambda: other.rods() == rods + 1, 30)
        text = file.read_text()
        file.write_text(text.replace("frequency_hz: 50", "frequency_hz: 60"))
        page.wait(lambda: "changed by another program" in page.text(".eg-notice"), 30)
        control(page, "s")
        assert "frequency_hz: 60" in file.read_text()
        page.wait((file.parent / f".{file.name}.draft").exists, 15)
        server.stop(kill=True)
        server = Server(file)
        page.open(server.address)
        page.wait(lambda: "unsaved work" in page.text(".eg-notice"), 15)
        page.button("Take it up", ".eg-notice")
        page.wait(lambda: page.rods() == rods + 1, 30)
    finally:
        second.quit()
        server.stop()


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_no_serious_finding_of_the_accessibility_checker(page, server, axe, theme):
    page.look(theme=theme)
    page.open(server.address)
    page.computed()
    problems = []
    page.driver.execute_script(axe)
    # the dark theme differs in colours only
    rules = {"runOnly": ["color-contrast"]} if theme == "dark" else {}
    for name in PANELS:
        page.panel(name)
        settle(0.4)
        found = page.driver.execute_async_script(
            "const done = arguments[arguments.length - 1]; axe.run(document, arguments[0])"
            ".then(r => done(r.violations.map(v =>"
            " [v.impact, v.id, v.nodes.slice(0, 3).map(n => n.html.slice(0, 160))])))",
            rules,
        )
        problems += [(name, *f) for f in found if f[0] in ("serious", "critical")]
    assert problems == []


@pytest.mark.parametrize(("width", "height"), [(500, 300), (800, 600)])
def test_a_tiny_window_still_works(page, server, width, height):
    page.look(width, height)
    page.open(server.address)
    assert (
        page.driver.execute_script("return document.querySelector('.eg-grid path').getAttribute('d').length")
        > 20
    )


@pytest.mark.parametrize(("width", "height"), [(1280, 800), (1920, 1080)])
def test_nothing_is_cut_off(page, server, width, height):
    page.look(width, height)
    page.open(server.address)
    page.computed()
    size = page.driver.execute_script(
        "const f = document.querySelector('.eg-caution').getBoundingClientRect();"
        "const d = document.documentElement; return [d.scrollWidth, d.scrollHeight, f.bottom, f.height]"
    )
    assert size[0] <= width
    assert size[1] <= height
    assert size[2] <= height
    assert size[3] > 0
    sheet = page.driver.execute_script(
        "const r = document.querySelector('.eg-sheet').getBoundingClientRect(); return [r.width, r.height]"
    )
    assert sheet[0] > 0.5 * width
    assert sheet[1] > 0.35 * height


def test_the_page_is_not_part_of_the_quick_commands():
    """The web library is loaded by ``open`` only."""
    code = "import sys, evenground.cli; sys.exit('nicegui' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0
