"""Parts of the report about the metal itself: separate electrodes, voltage along the metal, sections."""

from __future__ import annotations

from typing import TYPE_CHECKING

from evenground.deliver._blocks import Block, figure, heading, table, text
from evenground.deliver.format import format_number, format_percent, format_quantity

if TYPE_CHECKING:
    from evenground.model.study import Study

__all__ = ["metal_blocks", "section_figures", "touched"]


def touched(zone: str, metal: str) -> str:
    """The zone, with the separate metal that is touched there."""
    return f"{zone}, at {metal}" if metal else zone


def metal_blocks(study: Study) -> list[Block | None]:
    """Separate electrodes and the voltage along the metal, for the chapter of results."""
    return [*_separate(study), *_drop(study)]


def _separate(study: Study) -> list[Block | None]:
    if not study.separate:
        return []
    rows = [
        [
            s.name,
            "floating" if s.floating else "linked",
            format_number(s.resistance_ohm),
            format_number(s.mutual_ohm),
            f"{100 * s.share:.1f} %",
            "0" if s.floating else f"{100 * s.leaked_share:.1f} %",
            *(format_number(v) for v in s.potential_v.values()),
        ]
        for s in study.separate
    ]
    scenarios = [f"V, {name}" for name in study.gpr_v]
    return [
        heading("Metal that is not bonded"),
        text(
            "Separate electrodes were solved together with the main one. Mutual resistance is the potential "
            "of an electrode per ampere that the main electrode alone leaks; the potential is stated in per "
            "cent of the main electrode's potential rise and in volts for each fault."
        ),
        table(
            "Separate electrodes: earth resistance, potential, share of the current into the earth",
            ["Electrode", "", "Own, Ω", "Mutual, Ω", "Potential", "Current", *scenarios],
            rows,
            align="ll" + "r" * (4 + len(scenarios)),
            widths=["1fr", *["auto"] * (5 + len(scenarios))],
            small=True,
        ),
    ]


def _drop(study: Study) -> list[Block | None]:
    drop = study.metal_drop
    if drop is None:
        return []
    rows = [
        [name, format_quantity(value, "V"), format_percent(value / study.gpr_v[name])]
        for name, value in drop.drop_v.items()
    ]
    x, y, z = drop.furthest_m
    return [
        heading("Voltage along the metal"),
        text(
            "The fault current enters at the stated points and flows through metal with resistance and "
            "inductance. Highest potential of the metal per ampere: "
            f"{format_quantity(abs(drop.impedance_ohm), 'ohm')}; the same metal at one potential has "
            f"{format_quantity(drop.resistance_ohm, 'ohm')}. The largest difference lies between an entry "
            f"point and ({x:.1f}, {y:.1f}) m at a depth of {z:.2f} m. Touch voltage was taken between the "
            "ground and the bonded metal within reach; metal that brings the potential of another part of "
            "the site (cable screens, pipes, rails) is not covered by it."
        ),
        table(
            "Largest voltage between an entry point and other bonded metal",
            ["Fault", "Voltage", "Of the potential rise"],
            rows,
            align="lrr",
            widths=["1fr", "auto", "auto"],
        ),
        *(text(note) for note in drop.notes),
    ]


def section_figures(study: Study) -> list[Block | None]:
    """Figures of the sections in depth."""
    return [
        figure(f"section-{n}", f"Potential in depth below “{s.name}”", f"Section in depth {s.name}")
        for n, s in enumerate(study.sections, start=1)
    ]
