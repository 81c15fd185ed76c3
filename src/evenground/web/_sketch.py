"""Sketch of the station's metal with the current in every path, as SVG that follows the theme."""

from __future__ import annotations

import textwrap
from html import escape
from typing import TYPE_CHECKING

from evenground.deliver._flows import Flow, split_flows
from evenground.deliver.format import format_percent, format_quantity

if TYPE_CHECKING:
    from evenground.model.fault import FaultResult
    from evenground.model.network import ScenarioSplit

__all__ = ["split_sketch", "stated_sketch"]

WIDTH, ROW, MIDDLE, ARROW = 440, 66, 220, 44
LETTERS = 22
"""Letters of a bold line that fit beside the arrow; a longer name goes on, in a second line."""
WIDEST = 22.0
"""Width of the arrow of the whole fault current, in units of the drawing."""
KINDS = {
    "wire": "metal that leaves",
    "fault": "fault current",
    "source neutral": "through its neutral",
    "mat": "mat and soil",
    "bond": "bond",
}


def split_sketch(split: ScenarioSplit) -> str:
    """Arrows arrive at the metal from the left and leave to the right; the mat leads down into the soil."""
    flows = split_flows(split)
    mat = next(flow for flow in flows if flow.kind == "mat")
    return _drawing(
        [f for f in flows if f is not mat and not f.leaves],
        [f for f in flows if f is not mat and f.leaves],
        mat,
        f"Currents at the station's metal, fault {split.result.place.name}",
    )


def stated_sketch(fault: FaultResult) -> str:
    """The same of a split factor that is stated: what comes, what the mat takes, and the rest."""
    factor = fault.scenario.split_factor
    total = fault.earth_fault_current_a
    mat = Flow("mat", "mat", complex(factor * total), factor, 1.0)
    back = [Flow("other metal (stated share)", "wire", complex((1 - factor) * total), 1 - factor, 1.0)]
    coming = [Flow(fault.scenario.name, "fault", complex(total), 1.0, -1.0)]
    return _drawing(coming, back if factor < 1 else [], mat, "Currents with the stated split factor")


def _drawing(arriving: list[Flow], leaving: list[Flow], mat: Flow, label: str) -> str:
    rows = max(len(arriving), len(leaving), 1)
    foot = ROW * rows + 6
    parts = [
        f'<svg class="eg-sketch" viewBox="0 0 {WIDTH} {foot + 92}" role="img" aria-label="{escape(label)}">',
        f'<path class="eg-metal" d="M{MIDDLE} 4V{foot}"/>',
    ]
    for k, flow in enumerate(arriving):
        y = ROW * (k + 0.5)
        parts.append(_arrow(MIDDLE - ARROW - 4, y, MIDDLE - 4, flow.share, "in"))
        parts.append(_words(MIDDLE - ARROW - 12, y, flow, "end"))
    for k, flow in enumerate(leaving):
        y = ROW * (k + 0.5)
        parts.append(_arrow(MIDDLE + 4, y, MIDDLE + ARROW + 4, flow.share, "out"))
        parts.append(_words(MIDDLE + ARROW + 12, y, flow, "start"))
    down = f"translate({MIDDLE},{foot}) rotate({90 if mat.leaves else -90})"
    start, end = (0, 46) if mat.leaves else (-46, 0)
    parts.append(f'<g transform="{down}">{_arrow(start, 0, end, mat.share, "soil")}</g>')
    parts.append(_words(MIDDLE + 30, foot + 26, mat, "start"))
    ground = "".join(f"M{MIDDLE - w} {foot + 56 + 8 * n}H{MIDDLE + w}" for n, w in enumerate((34, 22, 10)))
    parts.append(f'<path class="eg-earth" d="{ground}"/></svg>')
    return "".join(parts)


def _arrow(start: float, y: float, end: float, share: float, kind: str) -> str:
    half = max(min(share, 1.3) * WIDEST, 1.4) / 2
    head = max(half + 5, 6)
    neck = end - 14
    path = (
        f"M{start} {y - half:.1f}H{neck}V{y - head:.1f}L{end} {y}L{neck} {y + head:.1f}V{y + half:.1f}"
        f"H{start}Z"
    )
    return f'<path class="eg-flow {kind}" d="{path}"/>'


def _words(x: float, y: float, flow: Flow, anchor: str) -> str:
    kind = KINDS.get(flow.kind, flow.kind)
    name = kind if flow.kind == "mat" else flow.name
    shown = textwrap.wrap(name, LETTERS, max_lines=2, placeholder=" …") or [""]
    lines = [(words, "eg-flow-name") for words in shown]
    lines.append((f"{format_quantity(abs(flow.current), 'A')} · {format_percent(flow.share)}", ""))
    if flow.kind != "mat":
        lines.append((kind, "eg-flow-kind"))
    top = y + 4 - 7.5 * (len(lines) - 1)
    drawn = "".join(
        f'<text x="{x}" y="{top + 15 * n:g}" text-anchor="{anchor}" class="{css}">{escape(words)}</text>'
        for n, (words, css) in enumerate(lines)
    )
    return f"<g><title>{escape(name)}</title>{drawn}</g>"
