"""The code blocks of the pages on drawings and quantities run as printed."""

import re
from pathlib import Path

import pytest

DOCS = Path(__file__).resolve().parents[2] / "docs"


@pytest.mark.parametrize("page", ["drawings.md", "quantities.md"])
def test_code_blocks_run_in_order(page, capsys):
    blocks = re.findall(r"```python\n(.*?)```", (DOCS / page).read_text(encoding="utf-8"), re.S)
    assert blocks
    names = {}
    for block in blocks:
        exec(compile(block, page, "exec"), names)
    if page == "drawings.md":
        assert "4 rods" in capsys.readouterr().out
