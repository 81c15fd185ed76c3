"""Every code block of the page runs."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

PAGE = Path(__file__).parents[2] / "docs" / "site-tests.md"
BLOCKS = re.findall(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)


def test_there_are_blocks() -> None:
    assert BLOCKS


@pytest.mark.parametrize("number", range(len(BLOCKS)))
def test_block(number: int, capsys: pytest.CaptureFixture[str]) -> None:
    exec(compile(BLOCKS[number], f"{PAGE.name} block {number + 1}", "exec"), {"__name__": "page"})
    assert capsys.readouterr().out.strip()
