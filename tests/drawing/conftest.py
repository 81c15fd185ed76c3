"""Designs and drawings made for the tests."""

import importlib.util
from pathlib import Path

import pytest
from ezdxf.filemanagement import new

_place = Path(__file__).resolve().parents[1] / "schedules" / "designs.py"
_spec = importlib.util.spec_from_file_location("small_designs_for_drawing", _place)
designs_module = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(designs_module)


@pytest.fixture(scope="session")
def designs():
    return designs_module


@pytest.fixture(scope="session")
def small(designs):
    return designs.small()


@pytest.fixture
def save(tmp_path):
    """Write a drawing that a function fills; returns its path."""

    def make(fill, *, version="R2018", units=6, name="plan.dxf", fmt="asc"):
        document = new(version, units=units)
        fill(document, document.modelspace())
        file = tmp_path / name
        document.saveas(file, fmt=fmt)
        return file

    return make
