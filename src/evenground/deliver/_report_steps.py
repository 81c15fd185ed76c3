"""The calculation chapter: every formula that was evaluated, once, with the numbers put in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from evenground.deliver._blocks import Block, formula, heading, math, table, text
from evenground.deliver._report_evidence import evidence_tag
from evenground.deliver.format import format_value, unit_text
from evenground.deliver.parameters import describe_parameter
from evenground.deliver.typst_math import (
    number_math,
    relation_math,
    substituted_math,
    symbol_math,
    typst_math,
    unit_math,
)

if TYPE_CHECKING:
    from evenground.provenance import EquationInfo, Step

__all__ = ["calculation_blocks", "grouped_steps"]


def grouped_steps(steps: Sequence[Step]) -> list[list[Step]]:
    """Steps of the same equation together, in order of first use; equal evaluations only once."""
    groups: dict[tuple[str, str, str], list[Step]] = {}
    for step in steps:
        key = (step.info.name, step.info.source, step.info.form)
        rows = groups.setdefault(key, [])
        if not any(_same(step, row) for row in rows):
            rows.append(step)
    return list(groups.values())


def _same(a: Step, b: Step) -> bool:
    return a.label == b.label and dict(a.inputs) == dict(b.inputs) and a.value == b.value


def calculation_blocks(steps: Sequence[Step]) -> list[Block | None]:
    """Blocks of the chapter; one section for each equation."""
    blocks: list[Block | None] = []
    for rows in grouped_steps(steps):
        blocks += _section(rows)
    return blocks


def _section(rows: list[Step]) -> list[Block | None]:
    details, first = rows[0].info, rows[0]
    blocks: list[Block | None] = [heading(_title(details.name))]
    lines = []
    if details.form:
        lines.append(f"{symbol_math(details.symbol)} = {typst_math(details.form)}")
    blocks.append(formula(lines) if lines else None)
    blocks.append(text(f"{details.symbol}: {details.text}." if details.text and not details.form else ""))
    blocks.append(text(f"{details.text}." if details.text and details.form else ""))
    blocks.append(_origin(details))
    blocks.append(_symbols(details, first if len(rows) == 1 else None))
    if len(rows) == 1:
        blocks.append(text(_for_what(first)))
        blocks.append(_worked(first))
        blocks.append(_breach(first))
    else:
        blocks.append(text(f"Worked for the first case{_label(first)}:"))
        blocks.append(_worked(first))
        blocks.append(_breach(first))
        blocks.append(_repeated(details, rows))
    return blocks


def _title(name: str) -> str:
    return name[:1].upper() + name[1:]


def _label(step: Step) -> str:
    return f" ({step.label})" if step.label else ""


def _for_what(step: Step) -> str:
    return f"Evaluated for: {step.label}." if step.label else ""


def _origin(details: EquationInfo) -> Block:
    """Source, evidence and range of validity."""
    return {
        "kind": "origin",
        "source": details.source,
        "evidence": evidence_tag(details.evidence),
        "valid": [relation_math(rule) for rule in details.valid],
        "words": {"source": "Source:", "holds": "Valid for"},
    }


def _symbols(details: EquationInfo, step: Step | None) -> Block | None:
    """What the symbols mean, with values when there is one evaluation only."""
    rows: list[list[Any]] = []
    for symbol, parameter in details.symbols.items():
        words, unit = describe_parameter(parameter)
        row: list[Any] = [math(symbol_math(symbol)), words]
        if step is not None:
            row.append(format_value(step.inputs.get(symbol)))
        rows.append([*row, unit or "—"])
    columns = ["Symbol", "Meaning", *(["Value"] if step is not None else []), "Unit"]
    block = table("", columns, rows, align="llrl" if step is not None else "lll", small=True)
    if block is not None:
        block["plain"] = True
    return block


def _worked(step: Step) -> Block:
    """The formula with its numbers, and the result."""
    details = step.info
    result = f"{number_math(step.value)} med {unit_math(unit_text(details.unit))}"
    symbol = symbol_math(details.symbol)
    if not details.form:
        return formula([f"{symbol} = {result}"])
    return formula([f"{symbol} = {substituted_math(details.form, step.inputs)} = {result}"])


def _breach(step: Step) -> Block | None:
    if not step.outside:
        return None
    words = {"outside": "Outside the range of validity: the source asks for"}
    return {"kind": "breach", "rules": [relation_math(rule) for rule in step.outside], "words": words}


def _repeated(details: EquationInfo, rows: list[Step]) -> Block | None:
    """All evaluations as a table."""
    symbols = list(details.symbols)
    constant = [s for s in symbols if len({format_value(row.inputs.get(s)) for row in rows}) == 1]
    varying = [s for s in symbols if s not in constant]
    broken = any(row.outside for row in rows)
    unit = unit_text(details.unit)
    head: list[Any] = ["Case", *(math(symbol_math(s)) for s in varying)]
    head.append(math(symbol_math(details.symbol) + unit_math(f", {unit}" if unit else "")))
    body = []
    for number, row in enumerate(rows, start=1):
        line: list[Any] = [row.label or f"case {number}", *(format_value(row.inputs.get(s)) for s in varying)]
        line.append(format_value(row.value))
        if broken:
            line.append("outside" if row.outside else "inside")
        body.append(line)
    if broken:
        head.append("Range")
    return table(
        f"Every evaluation: {details.name}",
        head,
        body,
        align="l" + "r" * (len(head) - 1),
        small=True,
    )
