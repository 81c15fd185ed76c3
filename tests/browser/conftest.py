"""A real browser on a real server process.

Needs Chromium and its driver (Debian: chromium, chromium-driver).
"""

import json
import os
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import WebDriverWait

from evenground.project import starter_text

PATIENCE_S = 120
FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--enable-unsafe-swiftshader",
    "--disable-dev-shm-usage",
)


class Server:
    """``evenground open`` in a process of its own."""

    def __init__(self, file):
        self.file = file
        command = [sys.executable, "-m", "evenground", "open", str(file), "--no-browser"]
        # the web library behaves differently when it believes to run inside pytest
        plain = {k: v for k, v in os.environ.items() if "PYTEST" not in k}
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=plain
        )
        line = self.process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:(\d+)/\?key=\S+", line)
        if found is None:
            self.process.kill()
            raise RuntimeError(line + self.process.communicate()[0])
        self.address, self.port = found.group(0), int(found.group(1))

    def stop(self, *, kill=False):
        """End it, at once or in order."""
        (self.process.kill if kill else self.process.terminate)()
        self.process.wait(20)
        self.process.stdout.close()


def make_driver():
    options = Options()
    options.binary_location = shutil.which("chromium") or shutil.which("chromium-browser") or "chromium"
    for flag in FLAGS:
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    service = Service(shutil.which("chromedriver") or "chromedriver")
    return webdriver.Chrome(options=options, service=service)


class Page:
    """What the tests do in a window."""

    def __init__(self, driver):
        self.driver = driver

    def look(self, width=1280, height=800, theme="light"):
        """Size of the window and preferred theme."""
        metrics = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)
        feature = {"name": "prefers-color-scheme", "value": theme}
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [feature]})

    def open(self, address):
        """Load the page and wait until the plan is there."""
        self.driver.get(address)
        self.wait(lambda: self.all(".eg-plan svg"))

    def wait(self, condition, seconds=PATIENCE_S):
        """Wait for a condition."""
        return WebDriverWait(self.driver, seconds, 0.1).until(lambda _: condition())

    def all(self, css):
        """Elements."""
        return self.driver.find_elements(By.CSS_SELECTOR, css)

    def text(self, css):
        """Text of the first element, empty without one."""
        return self.driver.execute_script("return document.querySelector(arguments[0])?.innerText ?? ''", css)

    def computed(self):
        """Wait until an exact result of the present state is shown."""
        self.wait(
            lambda: (
                "Computed in" in self.text(".eg-verdict-side")
                and "Before the last edit" not in self.text(".eg-verdict")
                and "First look" not in self.text(".eg-verdict")
            )
        )

    def panel(self, name):
        """Open a panel."""
        script = (
            "[...document.querySelectorAll('.q-tab')].find(e => e.innerText.trim() === arguments[0]).click()"
        )
        self.driver.execute_script(script, name)
        self.wait(lambda: self.text(".eg-panel").strip() and self.text(".q-tab--active").strip() == name)

    def button(self, words, inside="body"):
        """Click a button by its words."""
        script = (
            "const b = [...document.querySelectorAll(arguments[1] + ' button')]"
            ".find(e => e.innerText.trim() === arguments[0]); if (b) b.click(); return !!b"
        )
        self.wait(lambda: self.driver.execute_script(script, words, inside))

    def rods(self):
        """Number of rods that are drawn one by one: all unpicked ones are a single path."""
        script = (
            "const own = document.querySelector('.eg-rod.own');"
            "return Number(own.querySelector('[data-count]').dataset.count)"
            " + own.querySelectorAll('.picked').length"
        )
        return self.driver.execute_script(script)

    def requests(self):
        """Addresses of every request since the last call."""
        rows = []
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                rows.append(message["params"]["request"]["url"])
            if message["method"] == "Network.webSocketCreated":
                rows.append(message["params"]["url"])
        return rows

    def errors(self):
        """Errors on the console since the last call."""
        return [e["message"] for e in self.driver.get_log("browser") if e["level"] == "SEVERE"]


def small_site(folder):
    """A starter with few conductors, so that a study takes a moment only."""
    file = Path(folder) / "site.yaml"
    file.write_text(starter_text("plant"))
    return file


@pytest.fixture(scope="session")
def driver():
    one = make_driver()
    yield one
    one.quit()


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    one = Server(small_site(tmp_path_factory.mktemp("site")))
    yield one
    one.stop()


@pytest.fixture
def page(driver):
    page = Page(driver)
    # the page of the test before would go on asking for its server, which has ended
    driver.get("about:blank")
    page.look()
    page.errors()
    page.requests()
    return page


@pytest.fixture(scope="session")
def axe(tmp_path_factory):
    """Source of axe-core, an open-source accessibility checker; from EVENGROUND_AXE or by npm."""
    given = os.environ.get("EVENGROUND_AXE")
    if given:
        return Path(given).read_text(encoding="utf-8")
    folder = tmp_path_factory.mktemp("axe")
    command = ["npm", "install", "--silent", "--no-audit", "--no-fund", "--prefix", str(folder), "axe-core@4"]
    subprocess.run(command, check=True, timeout=120, capture_output=True)
    return (folder / "node_modules" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")


def settle(seconds=0.3):
    """A moment for the page to draw."""
    time.sleep(seconds)
