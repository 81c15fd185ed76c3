"""The example in docs/current-split.md runs and gives a sensible answer; the sketch is YAML."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import yaml

PAGE = (Path(__file__).parents[2] / "docs" / "current-split.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", PAGE, flags=re.DOTALL)


def test_python_example_runs() -> None:
    (code,) = blocks("python")
    scope: dict[str, Any] = {}
    exec(compile(code, "current-split.md", "exec"), scope)
    result, sweep = scope["result"], scope["sweep"]
    assert 0.1 < result.split_factor < 0.9
    assert len(sweep.results) == 4
    # the real earths lower the current of the fault study
    assert 0.5 * 4000.0 < abs(result.fault_current_a) < 4000.0


def test_sketch_of_the_project_file_is_yaml() -> None:
    (text,) = blocks("yaml")
    network = yaml.safe_load(text)["network"]
    names = {s["name"] for s in network["stations"]} | {"station"}
    assert {s["station"] for s in network["sources"]} <= names
    routes = {r["name"] for r in (*network["lines"], *network["cables"])}
    assert {s["via"] for s in network["sources"] if "via" in s} <= routes
