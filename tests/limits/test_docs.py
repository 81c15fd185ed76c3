"""docs/limits.md: its code runs, its tables are those of the register."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path
from typing import Any

DOCS = Path(__file__).parents[2] / "docs"
PAGE = (DOCS / "limits.md").read_text(encoding="utf-8")


def test_every_code_block_runs() -> None:
    blocks = re.findall(r"```python\n(.*?)```", PAGE, flags=re.DOTALL)
    assert len(blocks) >= 8
    scope: dict[str, Any] = {}
    for number, block in enumerate(blocks):
        exec(compile(block, f"limits.md, block {number + 1}", "exec"), scope)


def test_the_tables_have_not_drifted() -> None:
    spec = importlib.util.spec_from_file_location("limits_tables", DOCS / "limits_tables.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    assert module.page(PAGE) == PAGE, "run: python docs/limits_tables.py"
    assert "| `en50522_2022` |" in PAGE
