"""A small site, and its study, for the searches."""

import dataclasses
from dataclasses import replace
from pathlib import Path

import pytest
import yaml

from evenground.model.network import Network
from evenground.model.project import Project
from evenground.model.site import MatLayout, RodRule
from evenground.project import load_project
from evenground.study import run_study

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "examples" / "harrow-lane" / "site-revised.yaml"


@pytest.fixture(scope="session")
def demo() -> Project:
    return load_project(DEMO)


@pytest.fixture(scope="session")
def small(demo) -> Project:
    """A mat of four meshes with corner rods in the soil of the demo; no network, fences or services."""
    mat = MatLayout(
        name="pad",
        outline_m=((0.0, 0.0), (16.0, 0.0), (16.0, 12.0), (0.0, 12.0)),
        spacing_x_m=8.0,
        spacing_y_m=6.0,
        depth_m=0.5,
        rods=(RodRule("corners", 3.0, 14.2),),
    )
    faults = (replace(demo.faults[0], split_factor=0.2, split_stated=True),)
    assessment = replace(demo.assessment, profiles=(), compare_standards=False)
    return replace(
        demo,
        mats=(mat,),
        rods=(),
        runs=(),
        network=None,
        faults=faults,
        installation=type(demo.installation)(),
        assessment=assessment,
    )


@pytest.fixture(scope="session")
def small_study(small):
    return run_study(small)


@pytest.fixture(scope="session")
def network(demo) -> Network:
    assert demo.network is not None
    return demo.network


SMALL = {
    "evenground": 1,
    "project": {"title": "Pad"},
    "frequency_hz": 50,
    "soil": {"model": {"select": "given", "given": {"resistivities_ohm_m": [100]}, "reason": "given"}},
    "faults": [
        {
            "name": "20 kV",
            "voltage_kv": 20,
            "current_ka": 1.0,
            "x_over_r": 5,
            "split_factor": 0.2,
            "shock_time_s": 0.5,
            "thermal_time_s": 1.0,
        }
    ],
    "conductors": {
        "mat": {"material": "copper_hard_drawn", "joint": "exothermic", "shape": "round", "diameter_mm": 10}
    },
    "mats": [
        {
            "name": "pad",
            "outline_m": [[0, 0], [12, 0], [12, 12], [0, 12]],
            "spacing_m": 6,
            "depth_m": 0.5,
            "rods": [{"where": "corners", "length_m": 2, "diameter_mm": 14.2}],
        }
    ],
    "assessment": {"standard": "ieee80", "body_mass_kg": 50},
}


@pytest.fixture(scope="session")
def pad_data():
    return SMALL


@pytest.fixture(scope="session")
def pad_file(tmp_path_factory):
    file = tmp_path_factory.mktemp("pad") / "pad.yaml"
    file.write_text(yaml.safe_dump(SMALL, sort_keys=False))
    return file


def _agree(a, b):
    """Equal but for rounding: linear algebra in a worker process may use another number of threads."""
    assert type(a) is type(b)
    if dataclasses.is_dataclass(a):
        a, b = ([getattr(v, f.name) for f in dataclasses.fields(v)] for v in (a, b))
    if isinstance(a, dict):
        assert a.keys() == b.keys()
        a, b = list(a.values()), list(b.values())
    if isinstance(a, list | tuple):
        assert len(a) == len(b)
        for one, other in zip(a, b, strict=True):
            _agree(one, other)
    elif isinstance(a, float):
        assert a == pytest.approx(b, rel=1e-6, abs=1e-9, nan_ok=True)
    else:
        assert a == b


@pytest.fixture
def agree():
    """Compare results from different numbers of workers."""
    return _agree
