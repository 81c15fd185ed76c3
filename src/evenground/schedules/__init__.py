"""Schedules, bill of quantities, cost, carbon, construction sequence and inspection sheets.

Entry functions: :func:`design_of_study` (or :func:`design_of_electrode`) and :func:`build_schedules`;
:func:`write_schedules` writes them. :func:`plan_construction` and :func:`write_inspection_pdf` make the
papers for the site.
"""

from __future__ import annotations

from evenground.schedules._build import CAUTION, Schedules, build_schedules, write_schedules
from evenground.schedules._design import (
    ConductorType,
    Design,
    design_of_electrode,
    design_of_layout,
    design_of_project,
    design_of_study,
)
from evenground.schedules._extra import ExtraCost, extra_cost
from evenground.schedules._joints import Joint, JointSurvey, find_joints
from evenground.schedules._measure import Quantities, measure
from evenground.schedules._papers import inspection_pdf, write_inspection_pdf
from evenground.schedules._prices import (
    PriceItem,
    PriceList,
    parse_prices,
    placeholder_prices,
    read_prices,
    starter_prices_text,
)
from evenground.schedules._sequence import ConstructionPlan, plan_construction
from evenground.schedules._table import Column, Table
from evenground.schedules._total import Cost, total_cost
from evenground.schedules._writers import csv_text, write_csv, write_xlsx, xlsx_bytes

__all__ = [
    "CAUTION",
    "Column",
    "ConductorType",
    "ConstructionPlan",
    "Cost",
    "Design",
    "ExtraCost",
    "Joint",
    "JointSurvey",
    "PriceItem",
    "PriceList",
    "Quantities",
    "Schedules",
    "Table",
    "build_schedules",
    "csv_text",
    "design_of_electrode",
    "design_of_layout",
    "design_of_project",
    "design_of_study",
    "extra_cost",
    "find_joints",
    "inspection_pdf",
    "measure",
    "parse_prices",
    "placeholder_prices",
    "plan_construction",
    "read_prices",
    "starter_prices_text",
    "total_cost",
    "write_csv",
    "write_inspection_pdf",
    "write_schedules",
    "write_xlsx",
    "xlsx_bytes",
]
