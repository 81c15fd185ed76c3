"""The project file: read, checked as a whole, turned into the frozen project.

One file in YAML 1.2 holds everything a designer states. Every value may be written plainly or as
``{value: ..., origin: {document: ..., note: ...}}``. Errors come all at once, with line and column.
"""

from __future__ import annotations

from evenground.project._existing import ExistingSite, load_existing
from evenground.project._json_schema import json_schema
from evenground.project._load import load_project, parse_project, placed
from evenground.project._schema import SCHEMA_VERSION
from evenground.project._starter import starter_text
from evenground.project._tests_form import rows_of_form, site_test_of_rows

__all__ = [
    "SCHEMA_VERSION",
    "ExistingSite",
    "json_schema",
    "load_existing",
    "load_project",
    "parse_project",
    "placed",
    "rows_of_form",
    "site_test_of_rows",
    "starter_text",
]
