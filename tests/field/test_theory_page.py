"""The code blocks of the theory page run, one after the other."""

import re
from pathlib import Path

PAGE = Path(__file__).resolve().parents[2] / "docs" / "field-theory.md"


def test_the_code_block_runs_and_prints_a_resistance(capsys):
    blocks = re.findall(r"```python\n(.*?)```", PAGE.read_text(), re.S)
    assert blocks
    space: dict[str, object] = {}
    for block in blocks:
        exec(block, space)
    printed = capsys.readouterr().out
    assert re.search(r"^0\.\d+ ohm, within 0\.\d+ ohm\n\d{3} V at", printed)
    assert re.search(r"^0\.\d+ ohm, \d+ V across the metal\n", printed, re.M)
