"""The small design for every test here."""

import importlib.util
from pathlib import Path

import pytest

_spec = importlib.util.spec_from_file_location("small_designs", Path(__file__).with_name("designs.py"))
designs_module = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(designs_module)


@pytest.fixture(scope="session")
def designs():
    return designs_module


@pytest.fixture(scope="session")
def small(designs):
    return designs.small()
