"""Journeys from nothing to a design: a new site, a drawing, a survey, variants, fingers and keys."""

import math

import ezdxf
import openpyxl
import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from evenground.project import load_project, starter_text

from .conftest import Server, settle, small_site
from .test_journeys import click, control, keys, point

pytestmark = pytest.mark.slow


def field(page, label, inside="body"):
    """The input of the field with a label."""
    script = (
        "return [...document.querySelectorAll(arguments[1] + ' .q-field')]"
        ".find(e => e.querySelector('.q-field__label')?.innerText.trim().startsWith(arguments[0]))"
        "?.querySelector('input, textarea')"
    )
    return page.wait(lambda: page.driver.execute_script(script, label, inside))


def write(page, label, text, inside="body"):
    """Type into a field and leave it."""
    entry = field(page, label, inside)
    entry.send_keys(Keys.CONTROL, "a")
    entry.send_keys(text, Keys.TAB)
    settle()


def labelled(page, words):
    """Click the button whose spoken name holds the words."""
    script = (
        "const b = [...document.querySelectorAll('button')].find(b => b.ariaLabel?.includes(arguments[0]));"
        "if (b) b.click(); return !!b"
    )
    page.wait(lambda: page.driver.execute_script(script, words))


def choose(page, label, words, inside="body"):
    """Choose one of the answers of a field; its list is opened again when the panel was built anew."""
    pick = (
        "const o = [...document.querySelectorAll('.q-menu .q-item')]"
        ".find(e => e.innerText.trim() === arguments[0]); if (o) o.click(); return !!o"
    )

    def done():
        if page.driver.execute_script(pick, words):
            return True
        entry = field(page, label, inside)
        script = (
            "arguments[0].focus();arguments[0].closest('.q-field').querySelector('.q-field__control').click()"
        )
        page.driver.execute_script(script, entry)
        settle(0.6)
        return page.driver.execute_script(pick, words)

    page.wait(done)
    settle()


def test_a_new_site_to_a_report_of_limits_that_are_kept(page, tmp_path):
    server = Server(tmp_path / "new.yaml")
    try:
        page.driver.get(server.address)
        page.wait(lambda: "A new project: new.yaml" in page.text("body"))
        labelled(page, "plant")
        page.wait(lambda: page.all(".eg-plan svg"))
        page.computed()
        assert "Within the limits checked" in page.text(".eg-verdict")
        assert server.file.read_text() == starter_text("plant")
        page.panel("Start")
        assert "Faults, there" in page.text(".eg-panel")
        page.panel("Project")
        write(page, "Title", "Earthing of Larch Mill", ".eg-panel")
        page.computed()
        page.driver.execute_cdp_cmd(
            "Browser.setDownloadBehavior", {"behavior": "allow", "downloadPath": str(tmp_path / "got")}
        )
        page.panel("Files")
        page.button("Make the result files", ".eg-panel")
        page.wait(lambda: "report.pdf" in page.text(".eg-panel"))
        assert page.errors() == []
        page.button("report.pdf", ".eg-panel")
        report = tmp_path / "got" / "report.pdf"
        page.wait(report.is_file)
        assert report.read_bytes().startswith(b"%PDF-")
    finally:
        server.stop()


def yard(folder):
    """Two conductors and a house, in feet."""
    document = ezdxf.new("R2018")
    document.header["$INSUNITS"] = 2
    space = document.modelspace()
    space.add_line((0, -20), (100, -20), dxfattribs={"layer": "EARTH"})
    space.add_line((0, -30), (100, -30), dxfattribs={"layer": "EARTH"})
    space.add_line((10, 10), (30, 10), dxfattribs={"layer": "HOUSE"})
    document.saveas(folder / "yard.dxf")
    return folder / "yard.dxf"


def test_a_drawing_lies_under_the_plan_and_its_conductors_become_the_design(page, tmp_path):
    (tmp_path / "from").mkdir()
    drawing = yard(tmp_path / "from")
    server = Server(small_site(tmp_path))
    try:
        page.open(server.address)
        page.panel("Drawing")
        page.driver.find_element(By.CSS_SELECTOR, ".eg-panel input[type=file]").send_keys(str(drawing))
        page.wait(lambda: "EARTH" in page.text(".eg-layers"))
        page.wait(lambda: page.all(".eg-drawn"))
        labelled(page, "EARTH")
        choose(page, "Take as", "buried conductor", ".q-dialog")
        write(page, "Depth", "2 ft", ".q-dialog")
        page.button("Take", ".q-dialog")
        page.wait(lambda: "2 as conductor" in page.text(".eg-panel"))
        page.wait(lambda: page.all(".eg-taken"))
        page.button("Make it part of the layout", ".eg-panel")
        page.wait(lambda: "Taken over: 2 runs" in page.text("body"))
        control(page, "s")
        page.wait(lambda: "— saved" in page.text(".eg-file"))
        project = load_project(server.file)
        # the foot is 0.3048 m
        assert project.runs[-1].points_m == ((0, -9.144), (30.48, -9.144))
        assert project.runs[-1].depth_m == pytest.approx(0.6096)
        assert project.site_drawing is None
        assert sorted(p.name for p in tmp_path.glob("*.dxf")) == ["yard.dxf"]
        assert page.errors() == []
    finally:
        server.stop()


def test_readings_pasted_from_a_spreadsheet_become_the_soil_model(page, tmp_path):
    server = Server(small_site(tmp_path))
    try:
        page.open(server.address)
        page.computed()
        page.panel("Soil")
        page.button("Add traverse", ".eg-panel")
        page.button("Paste", ".eg-panel")
        # a uniform soil of 90 ohm m: R = rho / (2 pi a) by the definition of the apparent resistivity
        rows = "\n".join(f"{a}\t{90 / (2 * math.pi * a):.6f}" for a in (1, 2, 4, 8, 16, 32))
        area = field(page, "Cells", ".q-dialog")
        page.driver.execute_script(
            "arguments[0].value = arguments[1];"
            "arguments[0].dispatchEvent(new Event('input', {bubbles: true}))",
            area, "a (m)\tR (ohm)\n" + rows,
        )  # fmt: skip
        settle()
        page.button("Take", ".q-dialog")
        page.wait(lambda: len(page.all(".eg-readings tr")) == 7)
        # beside the stated model “auto” is refused in words, and settled in one step
        choose(page, "Select", "auto", ".eg-panel")
        page.wait(lambda: "A model is stated, but the choice is auto" in page.text(".eg-panel"))
        page.button("Let the readings decide", ".eg-panel")
        page.computed()
        page.wait(lambda: "Model: uniform 90 Ω·m" in page.text(".eg-panel"), 30)
        # a workbook dropped on the traverse replaces its readings
        book = openpyxl.Workbook()
        book.active.append(["Sounding at Larch Mill"])
        book.active.append(["Spacing (m)", "Resistance (Ω)"])
        for a in (1, 2, 4, 8):
            book.active.append([a, 150 / (2 * math.pi * a)])
        book.save(tmp_path / "sounding.xlsx")
        drop = page.driver.find_element(By.CSS_SELECTOR, ".eg-panel input[type=file]")
        drop.send_keys(str(tmp_path / "sounding.xlsx"))
        page.wait(lambda: len(page.all(".eg-readings tr")) == 5)
        page.computed()
        page.wait(lambda: "Model: uniform 150 Ω·m" in page.text(".eg-panel"), 30)
        assert page.errors() == []
    finally:
        server.stop()


def test_two_variants_side_by_side_and_one_taken_over(page, tmp_path):
    server = Server(small_site(tmp_path))
    try:
        page.open(server.address)
        page.computed()
        page.panel("Variants")
        write(page, "Name of the variant", "as starter", ".eg-panel")
        page.button("Keep the present state", ".eg-panel")
        page.wait(lambda: "as starter" in page.text(".eg-compare"))
        page.driver.execute_script("document.querySelector('[data-tool=rod]').click()")
        click(page, 2, -2)
        page.computed()
        page.panel("Variants")

        def rods():
            script = (
                "return [...document.querySelectorAll('.eg-compare tr')]"
                ".filter(r => r.cells[0].innerText === arguments[0])"
                ".map(r => [...r.cells].slice(1).map(c => c.innerText))[0]"
            )
            return page.driver.execute_script(script, "Rods")

        page.wait(lambda: rods() and "computing" not in rods())
        now, kept = (int(words.split()[0]) for words in rods())
        assert now == kept + 1
        assert "placeholder prices" in page.text(".eg-compare")
        page.button("Take over", ".eg-compare")
        page.wait(lambda: "not saved" not in page.text(".eg-file"))
        control(page, "z")
        page.wait(lambda: "not saved" in page.text(".eg-file"))
    finally:
        server.stop()


def touch(page, kind, *points):
    rows = [{"x": x, "y": y, "id": n} for n, (x, y) in enumerate(points)]
    page.driver.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": kind, "touchPoints": rows})


def test_one_finger_draws_and_two_fingers_zoom_without_drawing(page, tmp_path):
    server = Server(small_site(tmp_path))
    try:
        page.open(server.address)
        rods = page.rods()
        page.driver.execute_script("document.querySelector('[data-tool=rod]').click()")
        x, y = point(page, 3, -2)
        touch(page, "touchStart", (x, y))
        touch(page, "touchEnd")
        page.wait(lambda: page.rods() == rods + 1)
        before = point(page, 10, 0)[0] - point(page, 0, 0)[0]
        touch(page, "touchStart", (x, y))
        touch(page, "touchStart", (x, y), (x + 80, y))
        touch(page, "touchMove", (x - 40, y), (x + 120, y))
        touch(page, "touchEnd")
        settle(0.5)
        after = point(page, 10, 0)[0] - point(page, 0, 0)[0]
        assert after == pytest.approx(2 * before, rel=0.05)  # twice the distance of the fingers
        assert page.rods() == rods + 1
    finally:
        server.stop()


def test_everything_by_keyboard_in_feet_and_an_edit_of_every_kind(page, tmp_path):
    server = Server(small_site(tmp_path))
    try:
        page.open(server.address)
        page.driver.execute_script("document.querySelector('.eg-sheet').focus()")
        keys(page, "9")
        entry = page.all(".eg-entry")[0]

        def type_places(*rows):
            for row in rows:
                entry.send_keys(row, Keys.ENTER)
                settle(0.2)

        type_places("-10 ft, -10 ft", "+120 ft, 0", "")
        page.wait(lambda: page.all(".eg-fence"))
        page.wait(lambda: "fence 1" in page.text(".eg-edit-one"))
        page.driver.execute_script("document.querySelector('.eg-sheet').focus()")
        keys(page, "0")
        type_places("2, -3.048", "+4, 0")
        page.wait(lambda: page.all(".eg-gate"))
        page.driver.execute_script("document.querySelector('.eg-sheet').focus()")
        keys(page, "e")
        type_places("5, 5")
        page.wait(lambda: page.all(".eg-item rect"))
        page.wait(lambda: "E1" in page.text(".eg-edit-one"))
        page.driver.execute_script("document.querySelector('.eg-sheet').focus()")
        keys(page, Keys.ESCAPE)
        click(page, 5, 5)
        keys(page, Keys.ARROW_UP)
        control(page, "s")
        page.wait(lambda: "— saved" in page.text(".eg-file"))
        around = load_project(server.file).installation
        assert around.fences[0].points_m == ((-3.048, -3.048), (33.528, -3.048))
        assert (around.gates[0].start_m, around.gates[0].end_m) == ((2, -3.048), (6, -3.048))
        assert (around.equipment[0].x_m, around.equipment[0].y_m) == (5, 5.5)
        keys(page, Keys.DELETE)
        page.wait(lambda: not page.all(".eg-item rect"))
        assert page.errors() == []
    finally:
        server.stop()


def test_who_declared_a_subject_is_stated_in_the_page(page, tmp_path):
    server = Server(small_site(tmp_path))
    try:
        page.open(server.address)
        page.panel("Project")
        labelled(page, "Declarations")
        write(page, "Subject", "telecom circuits", ".q-dialog")
        page.button("Add", ".q-dialog")
        page.wait(lambda: "Status must be given" in page.text("body"))
        choose(page, "Status", "not applicable", ".q-dialog")
        page.button("Add", ".q-dialog")
        page.wait(lambda: page.all(".eg-nested-body input"))
        write(page, "By", "R. Halloran", ".eg-nested-body")
        control(page, "s")
        page.wait(lambda: "— saved" in page.text(".eg-file"))
        row = load_project(server.file).declarations[-1]
        assert (row.subject, row.status, row.by) == ("telecom circuits", "not applicable", "R. Halloran")
    finally:
        server.stop()


def test_printing_shows_plan_and_panel_without_the_tools(page, server):
    page.open(server.address)
    page.computed()
    page.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        shown = (
            "return [...arguments].map(s => [...document.querySelectorAll(s)]"
            ".some(e => e.getBoundingClientRect().height > 0))"
        )
        assert page.driver.execute_script(shown, ".eg-bar", ".eg-tabs", ".eg-actions") == [False] * 3
        assert page.driver.execute_script(shown, ".eg-sheet svg", ".eg-panel", ".eg-caution") == [True] * 3
    finally:
        page.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def test_a_wheel_turn_and_a_right_drag_change_the_view_only(page, server):
    page.open(server.address)
    page.computed()
    before = point(page, 0, 0)
    x, y = point(page, 3, 3)
    acts = ActionChains(page.driver, duration=20)
    acts.w3c_actions.pointer_action.move_to_location(round(x), round(y))
    acts.w3c_actions.pointer_action.pointer_down(2)
    acts.w3c_actions.pointer_action.move_to_location(round(x) + 40, round(y))
    acts.w3c_actions.pointer_action.pointer_up(2)
    acts.perform()
    settle()
    after = point(page, 0, 0)
    assert after[0] - before[0] == pytest.approx(40, abs=2)
    assert "not saved" not in page.text(".eg-file")
