"""Rules that keep the code readable and honest, checked instead of promised."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "evenground"
FILES = sorted(SOURCE.rglob("*.py"))

LONG_FILES = {
    "model/soil.py": 440,  # the shapes of one stage, nearly all of it their docstrings
    "model/lightning.py": 660,  # likewise
    "model/sitetest.py": 660,  # likewise
    "field/_kernels.py": 1200,  # the on-disk cache of compiled functions watches one file only
}
LONGEST_FILE = 400
CORE = [p for p in FILES if not {"cli", "deliver", "web"} & set(p.relative_to(SOURCE).parts)]


def calls(tree):
    return [n for n in ast.walk(tree) if isinstance(n, ast.Call)]


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(SOURCE)))
def test_files_stay_short(path):
    lines = len(path.read_text().splitlines())
    assert lines <= LONG_FILES.get(str(path.relative_to(SOURCE)), LONGEST_FILE)


@pytest.mark.parametrize("path", CORE, ids=lambda p: str(p.relative_to(SOURCE)))
def test_the_core_opens_no_file_reads_no_clock_and_prints_nothing(path):
    if "project" in path.relative_to(SOURCE).parts:
        # the project room reads the project file; that is its job
        forbidden = {"print", "input"}
    else:
        forbidden = {"print", "input", "open"}
    names = {n.func.id for n in calls(ast.parse(path.read_text())) if isinstance(n.func, ast.Name)}
    attributes = {
        n.func.attr for n in calls(ast.parse(path.read_text())) if isinstance(n.func, ast.Attribute)
    }
    assert not names & forbidden
    assert not attributes & {"now", "today", "utcnow"}


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(SOURCE)))
def test_every_public_name_has_a_docstring(path):
    tree = ast.parse(path.read_text())
    public = [
        n for n in tree.body if isinstance(n, ast.FunctionDef | ast.ClassDef) and not n.name.startswith("_")
    ]
    assert ast.get_docstring(tree), "module"
    assert [n.name for n in public if not ast.get_docstring(n)] == []


def test_no_bare_except_and_no_star_import():
    for path in FILES:
        for node in ast.walk(ast.parse(path.read_text())):
            assert not (isinstance(node, ast.ExceptHandler) and node.type is None), path
            assert not (isinstance(node, ast.ImportFrom) and any(a.name == "*" for a in node.names)), path
