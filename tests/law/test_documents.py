"""README and docs: links lead somewhere, and the code in the README runs."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGES = [ROOT / "README.md", ROOT / "CONTRIBUTING.md", *sorted((ROOT / "docs").glob("*.md"))]


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_links_lead_somewhere(page):
    text = page.read_text(encoding="utf-8")
    links = [m for m in re.findall(r"\]\(([^)#\s]+)", text) if "://" not in m]
    assert [link for link in links if not (page.parent / link).exists()] == []


def test_the_python_of_the_readme_runs(capsys):
    blocks = re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.S)
    assert blocks
    for block in blocks:
        exec(compile(block, "README.md", "exec"), {})
    assert capsys.readouterr().out == "1.02 ohm\n"


def test_every_command_of_the_readme_exists():
    from typer.main import get_command

    from evenground.cli._main import app

    text = (ROOT / "README.md").read_text(encoding="utf-8")
    used = set(re.findall(r"^evenground (\w+)", text, re.M))
    assert used <= set(get_command(app).commands)
    assert {"new", "soil", "study", "schema", "drawings", "open"} <= used
