"""JSON Schema and documentation agree with what the loader accepts."""

import re
import runpy
from pathlib import Path

import jsonschema
import pytest

from evenground.errors import InputError
from evenground.project import json_schema, parse_project, starter_text
from evenground.project._nodes import ListNode, MapNode, read_tree
from evenground.project._schema import ProjectFile
from evenground.project._slips import RULES
from evenground.project._source import Source
from evenground.project._words import unit_of

FILES = {kind: starter_text(kind) for kind in ("substation", "plant")}
FILES |= {str(f): f.read_text(encoding="utf-8") for f in sorted(Path("examples").glob("*/*.yaml"))}
TOOL = runpy.run_path("docs/project_file_tables.py")


def plain(node):
    """The file as a JSON document, as an editor's YAML support sees it."""
    if isinstance(node, MapNode):
        return {name: plain(child) for name, (_, child) in node.entries.items()}
    if isinstance(node, ListNode):
        return [plain(item) for item in node.items]
    return node.value


def document(text):
    return plain(read_tree(Source(text, ""))[0])


@pytest.fixture(scope="module")
def validator():
    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


@pytest.mark.parametrize("name", FILES)
def test_schema_accepts_starters_and_demo_sites(validator, name):
    assert [e.message for e in validator.iter_errors(document(FILES[name]))] == []


@pytest.mark.parametrize(
    ("old", "new", "accepted"),
    [
        ("depth_m: 0.6", "depth_m: {value: 0.6, origin: {note: n}}", True),
        ("depth_m: 0.6", "depth_m: {value: 0.6, origin: DR-1}", True),
        ("spacing_m: 5 ", "spacing_m: 5\n    origin: {document: d} ", True),
        ("raster_m: 0.5", "raster_m:", True),
        ("revision: A", "revision: 01", True),
        ("[60, 0], [60, 40]", "[{value: 60}, 0], [60, 40]", True),
        ("depth_m: 0.6", 'depth_m: "0.6"', False),
        ("depth_m: 0.6", "depth_m: -0.6", False),
        ("depth_m: 0.6", "depth_m: {value: 0.6, origin: {nte: n}}", False),
        ("depth_m: 0.6", "depth_m: {value: deep}", False),
        ("depth_m: 0.6", "dpth_m: 0.6", False),
        ("array: wenner", "array: wener", False),
        ("[60, 0], [60, 40]", "[60], [60, 40]", False),
        ("frequency_hz: 50", "frequency_hz: {hz: 50}", False),
    ],
)
def test_schema_and_loader_accept_and_refuse_alike(validator, old, new, accepted):
    text = FILES["substation"].replace(old, new, 1)
    assert text != FILES["substation"]
    assert validator.is_valid(document(text)) is accepted
    if accepted:
        assert parse_project(text).frequency_hz == 50
    else:
        with pytest.raises(InputError, match=r"\d+:\d+: "):
            parse_project(text)


def test_schema_file_is_in_step():
    written = Path("examples/evenground.schema.json").read_text(encoding="utf-8")
    assert written == TOOL["schema_text"](), "run: python docs/project_file_tables.py"


def test_documentation_tables_are_in_step():
    text = Path("docs/project-file.md").read_text(encoding="utf-8")
    assert text == TOOL["page"](text), "run: python docs/project_file_tables.py"


def test_python_in_the_documentation_runs(capsys):
    text = Path("docs/project-file.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```python\n(.*?)```", text, re.DOTALL)
    assert blocks
    for block in blocks:
        exec(compile(block, "project-file.md", "exec"), {})
    assert "did you mean 'frequency_hz' (in Hz)?" in capsys.readouterr().out


def fields():
    for title, model in TOOL["sections"]():
        for name, field in model.model_fields.items():
            yield title, name, field


@pytest.mark.parametrize(("title", "name", "field"), list(fields()))
def test_every_field_is_described_and_its_unit_is_that_of_its_name(title, name, field):
    text = field.description or ""
    assert text.split("[")[0].rstrip().endswith((".", ",", "1"))
    unit = re.search(r" \[([^\[\]]+)\]$", text)
    assert (unit[1] if unit else "") == unit_of(name)


def test_every_plausibility_rule_belongs_to_a_field_and_is_ordered():
    known = set()
    for title, name, _ in fields():
        parts = [p for p in re.sub(r"\[\]", "", title).split(".") if p]
        known.add((*("*" if p == "KEY" else p for p in parts), name))
    assert set(RULES) <= known
    for rule in RULES.values():
        assert rule.hard[0] <= rule.plausible[0] <= rule.usual[0] < rule.usual[1]
        assert rule.usual[1] <= rule.plausible[1] <= rule.hard[1]


def test_models_forbid_what_they_do_not_know():
    for _, model in TOOL["sections"]():
        assert model.model_config["extra"] == "forbid"
        assert model.model_config["strict"] is True
    assert ProjectFile.model_fields
