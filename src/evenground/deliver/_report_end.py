"""The last chapters of the report: quality of the solution, findings, what is open, and listings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from evenground.deliver._blocks import Block, chapter, heading, listing, pairs, table, text
from evenground.deliver.format import format_percent, format_quantity, format_value
from evenground.deliver.words import check_sentence
from evenground.model.study import Verdict

if TYPE_CHECKING:
    from evenground.model.study import Study

__all__ = ["conductor_listing", "field_solution", "findings", "not_checked", "open_points"]


MOST_LISTED = 200


def field_solution(study: Study) -> Block:
    """How good the numerical solution is."""
    f = study.field
    return chapter(
        "Quality of the field solution",
        [
            text(
                "The leakage of every segment is unknown and is found so that all metal is at one "
                "potential. The figures below say how well that was done."
            ),
            pairs(
                [
                    ("Method", f.method),
                    ("Segments", str(f.segments)),
                    ("Longest segment", format_quantity(f.longest_segment_m, "m", 3)),
                    ("Layers of soil", str(f.layers)),
                    ("Resistance", format_quantity(f.resistance_ohm, "ohm", 5)),
                    (
                        "Error of the resistance, estimated",
                        f"{format_quantity(f.resistance_error_ohm, 'ohm', 2)} "
                        f"({format_percent(f.resistance_error_ohm / f.resistance_ohm)})",
                    ),
                    ("Error of the soil kernel, relative", format_value(f.kernel_error, 2)),
                    ("Residual of the equations, relative", format_value(f.residual, 2)),
                    ("Balance of leakage and current, relative", format_value(f.energy_balance, 2)),
                    ("Iterations", str(f.iterations)),
                ]
            ),
            listing(f.notes),
        ],
    )


def findings(study: Study) -> Block:
    """Warnings and notes about inputs and results."""
    rows = [
        [
            row.severity.value,
            {"path": row.field or "—"},
            f"{row.message}{f' ({row.advice})' if row.advice else ''}",
        ]
        for row in study.findings
    ]
    return chapter(
        "Findings",
        [
            text("No doubtful value was found in the inputs." if not rows else ""),
            table(
                "Findings about inputs and results",
                ["Weight", "Field", "Finding"],
                rows,
                widths=["auto", "1fr", "2.4fr"],
                small=True,
            ),
        ],
    )


def open_points(study: Study) -> Block:
    """Assumptions, declarations and what has to be settled."""
    project = study.project
    declared = [[d.subject, d.status, d.by or "—", d.reason or "—"] for d in project.declarations]
    points = [
        f"{d.subject}: {d.reason or 'open'}" for d in project.declarations if d.status.lower() == "open"
    ]
    points += [check_sentence(c) for c in study.checks if c.verdict is Verdict.NOT_DECIDED]
    return chapter(
        "Assumptions, declarations and open points",
        [
            heading("Assumptions of the designer"),
            listing(project.assumptions, "None is stated."),
            table(
                "Declarations",
                ["Subject", "Status", "By", "Reason"],
                declared,
                widths=["1fr", "auto", "auto", "1.6fr"],
            ),
            heading("Open points"),
            listing(points, "None is stated, and every check is decided."),
        ],
    )


def not_checked(study: Study) -> Block:
    """What this study does not cover."""
    return chapter(
        "Not checked",
        [
            text(
                "The verdict says nothing about the subjects below. Each needs its own check before the "
                "installation is built or energised."
            ),
            listing(study.not_checked, "No list was made; take nothing beyond the checks above as covered."),
        ],
        name="not-checked",
    )


def conductor_listing(study: Study) -> Block:
    """Every conductor with its ends, or the first of them."""
    rows = [
        [
            str(number),
            c.kind,
            c.group,
            *(f"{v:.2f}".replace("-", "−") for v in (*c.start_m, *c.end_m)),
            f"{c.length_m:.2f}",
            f"{1000 * c.radius_m:.3g}",
        ]
        for number, c in enumerate(study.electrode, start=1)
    ]
    more = len(rows) - MOST_LISTED
    return chapter(
        "Listing of conductors",
        [
            text("Coordinates in m, z is depth. The same list is in conductors.csv."),
            text(f"The first {MOST_LISTED} rows; {more} more are in conductors.csv." if more > 0 else ""),
            table(
                "Conductors of the model",
                ["No.", "Kind", "Group", "x1", "y1", "z1", "x2", "y2", "z2", "Length, m", "Radius, mm"],
                rows[:MOST_LISTED],
                align="rllrrrrrrrr",
                small=True,
            ),
        ],
        name="appendix",
    )
