"""The calculation report: one PDF, made from the study and nothing else."""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evenground.deliver import _report_boundary as around
from evenground.deliver import _report_end as end
from evenground.deliver import _report_inputs as inputs
from evenground.deliver import _report_results as outcome
from evenground.deliver import _report_soil as soil_part
from evenground.deliver._blocks import chapter, text
from evenground.deliver._report_compare import revision_chapter
from evenground.deliver._report_evidence import formula_appendix, legend
from evenground.deliver._report_help import help_chapter
from evenground.deliver._report_lightning import lightning
from evenground.deliver._report_network import network
from evenground.deliver._report_sensitivity import sensitivity_chapter
from evenground.deliver._report_steps import calculation_blocks
from evenground.deliver._report_tests import proof_on_site
from evenground.deliver._speak import study_language
from evenground.deliver._typeset import compile_pdf
from evenground.language import ENGLISH
from evenground.model._serial import CAUTION

if TYPE_CHECKING:
    from evenground.model.study import Study

__all__ = ["report_data", "report_pdf"]


def report_pdf(
    study: Study, plots: Mapping[str, bytes], *, made_on: str, earlier: Mapping[str, Any] | None = None
) -> bytes:
    """The report as PDF/A-2b.

    Parameters
    ----------
    study : Study
    plots : mapping
        File stem -> SVG, as :func:`evenground.deliver.plots.study_figures` names them. A chapter's
        figure without a plot is left out.
    made_on : str
        Day of issue, ``"2026-04-17"``; the same study and day give the same bytes.
    earlier : mapping, optional
        Plain data of an earlier study; a chapter then says what changed since.

    Raises
    ------
    ValueError
        When ``made_on`` is not a date.
    RuntimeError
        When the typesetter fails or warns; its message is included.
    """
    data = report_data(study, made_on=made_on, plots=set(plots), earlier=earlier)
    pdf, warnings = compile_pdf(data, plots)
    if warnings:
        raise RuntimeError("the report was not typeset cleanly: " + "; ".join(warnings))
    return pdf


def report_data(
    study: Study, *, made_on: str, plots: set[str], earlier: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """Everything the template prints, as plain data."""
    day = datetime.date.fromisoformat(made_on)
    chapters = [
        outcome.scope(study),
        inputs.register(study),
        inputs.site(study),
        soil_part.soil(study),
        inputs.faults(study),
        *([going] if (going := network(study)) is not None else []),
        inputs.conductors(study),
        inputs.limits(study),
        outcome.geometry(study),
        outcome.results(study),
        outcome.maps(study),
        around.fences(study),
        around.connections(study),
        around.transferred(study),
        *([strokes] if (strokes := lightning(study)) is not None else []),
        *([proof] if (proof := proof_on_site(study)) is not None else []),
        end.field_solution(study),
        _calculation(study),
        sensitivity_chapter(study),
        revision_chapter(study, earlier),
        end.findings(study),
        end.open_points(study),
        help_chapter(study),
        around.completeness(study),
        end.not_checked(study),
    ]
    data = _cover(study, made_on) | {
        "date": [day.year, day.month, day.day],
        "summary": outcome.summary(study) | {"findings": _findings_sentence(study)},
        "words": _words(study),
        "chapters": [_with_plots(c, plots) for c in chapters if c is not None],
        "appendices": [formula_appendix(study), end.conductor_listing(study)],
    }
    words = study_language(study)
    if words is not ENGLISH:
        data["trace"].append(["", LANGUAGE_NOTE])
    bound: dict[str, Any] = _bound(words.whole(data) | {"kind": words.term(data["kind"])})
    return bound


LANGUAGE_NOTE = (
    "This report is in German. What the designer wrote, keys and values of the project file, and numbers "
    "with their decimal points stay as they are."
)
"""Said where the report is not in English; a language file replaces it by words of its own."""
UNITS = re.compile(r"(?<=[\d.)]) (?=(?:kV|V|kA|A|kΩ|Ω|mm|m|s|%|°C|kg|Hz)(?![A-Za-z]))")


def _bound(value: Any) -> Any:
    """Keep a number and its unit on one line (no-break space); mathematics is left alone."""
    if isinstance(value, str):
        return UNITS.sub("\u00a0", value)
    if isinstance(value, list):
        return [_bound(item) for item in value]
    if isinstance(value, dict):
        typeset = {"math", "lines", "valid", "rules", "file"}
        return {key: item if key in typeset else _bound(item) for key, item in value.items()}
    return value


def _words(study: Study) -> dict[str, str]:
    """The words of the template itself."""
    return {
        "lang": study.project.identity.language,
        "contents": "Contents",
        "summary": "Summary",
        "revisions": "Revisions",
        "caution": "Caution",
        "page": "page",
        "not-checked": "Not checked by this study",
        "appendix": "Appendix",
    }


def _findings_sentence(study: Study) -> str:
    count = len(study.findings)
    if not count:
        return ""
    return f"{count} finding{'s' if count > 1 else ''} about inputs and results: see the chapter on findings."


def _calculation(study: Study) -> dict[str, Any]:
    intro = text(
        "Every formula that was evaluated stands here once, as declared in the program and checked against "
        "its code, with the numbers put in. Further evaluations of the same formula follow as a table. The "
        "tag in brackets says how well the source is known:"
    )
    return chapter("Calculation", [intro, legend(), *calculation_blocks(study.steps)])


def _with_plots(part: dict[str, Any], plots: set[str]) -> dict[str, Any]:
    kept = [b for b in part["blocks"] if b["kind"] != "figure" or b["file"].removesuffix(".svg") in plots]
    return part | {"blocks": kept}


def _cover(study: Study, made_on: str) -> dict[str, Any]:
    identity = study.project.identity
    last = identity.revisions[-1] if identity.revisions else None
    revision = f"revision {last.revision}" if last else "no revision"
    number = identity.document_number or "no document number"
    digest = study.project.input_hash
    people = [p for r in identity.revisions for p in (r.prepared_by,) if p]
    return {
        "kind": "Calculation report: earthing system",
        "title": identity.title,
        "authors": list(dict.fromkeys(people)),
        "caution": CAUTION,
        "header": {
            "left": f"{number}, {revision}, {identity.title}",
            "right": f"input {digest[:12] or 'without hash'}",
        },
        "footer": "Design aid: a licensed engineer must check every result against the local code.",
        "cover": [
            [label, value]
            for label, value in (
                ("Document", number),
                ("Revision", last.revision if last else "none stated"),
                ("Site", identity.site),
                ("Client", identity.client),
                ("Note", identity.note),
            )
            if value
        ],
        "revisions": _revisions(study),
        "trace": [
            ["Project file", Path(study.project.file_name).name or "not from a file"],
            ["SHA-256 of that file", digest or "none"],
            ["Program", f"evenground {study.version}"],
            ["Made on", made_on],
        ],
    }


def _revisions(study: Study) -> dict[str, Any]:
    """The revision block; a name that is missing stays an empty line to be signed."""
    rows = [
        [r.revision, r.date, r.description, r.prepared_by, r.checked_by, r.approved_by]
        for r in study.project.identity.revisions
    ]
    return {
        "columns": ["Rev.", "Date", "Description", "Prepared", "Checked", "Approved"],
        "rows": [[cell or "—" for cell in row] for row in rows] or [["—"] * 6],
        "align": "llllll",
        "widths": ["auto", "auto", "1.4fr", "1fr", "1fr", "1fr"],
        "small": False,
    }
