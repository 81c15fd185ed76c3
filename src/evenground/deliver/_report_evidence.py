"""How well each formula is known: short tags, a legend, and the appendix of formulas."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from evenground.deliver._blocks import Block, chapter, pairs, table, text

if TYPE_CHECKING:
    from evenground.model.study import Study
    from evenground.provenance import Step

__all__ = ["evidence_tag", "formula_appendix", "legend"]

_TAGS = {
    "found": ("S", "seen in a public source"),
    "from memory, cross-checked": ("MC", "from memory, confirmed by an independent relation"),
    "from memory": ("M", "from memory only: compare with your copy of the source"),
    "stated": ("E", "stated by the engineer"),
    "": ("D", "derived, or given by physics; no outside source needed"),
}


def evidence_tag(evidence: str) -> str:
    """The tag of a word of evidence; an unknown word stands for itself."""
    return _TAGS.get(evidence, (evidence, ""))[0]


def legend() -> Block:
    """What the tags mean; printed once."""
    return pairs([(tag, words) for tag, words in _TAGS.values()])


def formula_appendix(study: Study) -> Block:
    """Every formula that was evaluated, with source and evidence, and how many rest on memory alone."""
    rows: dict[tuple[str, str], list[Step]] = {}
    for step in study.steps:
        rows.setdefault((step.info.name, step.info.source), []).append(step)
    tags = Counter(evidence_tag(steps[0].info.evidence) for steps in rows.values())
    listed = [
        [name[:1].upper() + name[1:], source, evidence_tag(steps[0].info.evidence), str(len(steps))]
        for (name, source), steps in rows.items()
    ]
    memory = tags.get("M", 0)
    return chapter(
        "Formulas, their sources and evidence",
        [
            text(
                f"{len(rows)} formulas were evaluated: "
                + ", ".join(f"{count} {tag}" for tag, count in tags.items())
                + (f". The {memory} with tag M must be compared with the printed source." if memory else ".")
            ),
            legend(),
            table(
                "Formulas evaluated in this study, in order of first use",
                ["Formula", "Source", "Evidence", "Times"],
                listed,
                align="lllr",
                widths=["1fr", "1.3fr", "auto", "auto"],
                small=True,
            ),
        ],
        name="appendix",
    )
