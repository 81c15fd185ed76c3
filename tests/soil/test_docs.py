"""Every code block of the page on soil runs and prints what the page says it does."""

import re
from pathlib import Path

import pytest

PAGE = Path(__file__).resolve().parents[2] / "docs" / "soil.md"
BLOCKS = re.findall(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.S)
PRINTED = ["259.1 Ω·m to 2.54 m", "150.6", "h1 ['2.01'", "1500 Ω·m to 0.8 m"]


@pytest.mark.parametrize(
    ("block", "printed"),
    list(zip(BLOCKS, PRINTED, strict=True)),
    ids=["interpret", "curves", "posterior", "seasons"],
)
def test_code_block(block, printed, capsys):
    exec(compile(block, str(PAGE), "exec"), {})
    assert printed in capsys.readouterr().out
