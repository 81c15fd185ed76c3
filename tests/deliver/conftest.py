"""A study of an invented site, with one reading left out so that every kind of mark is drawn."""

import dataclasses
from pathlib import Path

import pytest

from evenground import load_project, run_study

ROOT = Path(__file__).resolve().parents[2]
LEFT_OUT = 14


@pytest.fixture(scope="session")
def study():
    found = run_study(load_project(ROOT / "examples" / "harrow-lane" / "site.yaml"))
    readings = list(found.soil.readings)
    readings[LEFT_OUT] = dataclasses.replace(readings[LEFT_OUT], used=False, flags=("left out by hand",))
    return dataclasses.replace(found, soil=dataclasses.replace(found.soil, readings=tuple(readings)))
