"""The example in docs/current-split.md runs; its section of a project file is valid."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from evenground.project import parse_project, starter_text

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


def test_the_section_shown_is_a_valid_one() -> None:
    (text,) = blocks("yaml")
    network = parse_project(starter_text("substation") + "\n" + text).network
    assert network is not None
    assert [line.name for line in network.lines] == ["north line", "old line", "village feeder"]
    assert len(list(network.contributions("110 kV single line to earth"))) == 2
