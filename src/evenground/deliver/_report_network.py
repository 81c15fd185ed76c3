"""Chapter of the report that says where the fault current goes, path by path."""

from __future__ import annotations

import cmath
from collections.abc import Sequence
from math import degrees
from typing import TYPE_CHECKING, Any

from evenground.deliver._blocks import Block, chapter, figure, heading, listing, table, text
from evenground.deliver._report_coupling import coupling
from evenground.deliver.format import (
    format_number,
    format_percent,
    format_quantity,
    format_stated,
    format_value,
)

if TYPE_CHECKING:
    from evenground.model.fault import FaultResult
    from evenground.model.network import PlaceRow, ScenarioSplit
    from evenground.model.split_routes import Cable, OverheadLine
    from evenground.model.study import Study

__all__ = ["angle_deg", "network", "own_splits", "shots"]

MOST_PLACES = 12
"""Fault places in the table of the report; all of them are in the CSV file."""
NOTHING = 1e-9
"""Amperes or volts per ampere of fault current that are rounding of the solution."""
LEAST_V = 1.0
"""Earths with a lower potential are not listed."""
BONDINGS = {
    "both_ends": "earthed at both ends",
    "near_end": "earthed at this station",
    "far_end": "earthed at the far station",
    "cross_bonded": "cross-bonded",
}
KINDS = {
    "source neutral": "neutral of the station",
    "fault": "fault current of the source",
    "mat": "into the soil",
}


def own_splits(study: Study) -> list[ScenarioSplit]:
    """The scenarios with a solution of their own; a back-up case shares that of its fault."""
    base = {f.scenario.name for f in study.faults if not f.scenario.base}
    return [row for row in study.split if row.scenario in base]


def angle_deg(current: complex, reference: complex) -> float:
    """Angle of a phasor against that of the reference; 0 for a current of nothing. [degrees]"""
    return degrees(cmath.phase(current / reference)) if current and reference else 0.0


def shots(faults: Sequence[FaultResult]) -> list[tuple[str, list[str]]]:
    """Lines of the table of faults about reclosing; none when nothing is reclosed."""
    rows = [f.scenario for f in faults]
    if not any(row.reclosings for row in rows):
        return []
    return [
        ("Unsuccessful reclosures", [str(row.reclosings) for row in rows]),
        ("Sum of the shots, shock", [format_stated(row.exposure_s, "s") for row in rows]),
        ("Sum of the shots, heating", [format_stated(row.heating_s, "s") for row in rows]),
    ]


def network(study: Study) -> Block | None:
    """The chapter, or None when the project describes no network."""
    if not study.split or study.project.network is None:
        return None
    blocks: list[Block | None] = [
        text(
            "Every span, cable section, tower and far earth is a branch of one network of phasors, with "
            "earth return, coupled with the phase that carries the fault; the mat stands in it with its own "
            "resistance of each soil case. Currents are rms values with growth, before the decrement "
            "factor; angles count from the fault current."
        ),
        _overview(study),
        *_cases(study),
        _routes(study),
    ]
    for number, split in enumerate(own_splits(study), start=1):
        blocks += _scenario(split, number)
    blocks += coupling(own_splits(study))
    blocks += [heading("Cross-checks"), _balance(study), *_table_c(study), _reduction(study)]
    blocks += [heading("Assumptions"), listing(_assumptions(study))]
    return chapter("Where the current goes", blocks)


def _overview(study: Study) -> Block | None:
    gpr = study.gpr_v
    rows = [
        [
            s.scenario,
            s.result.place.name,
            format_quantity(s.prospective_current_a, "A"),
            format_quantity(abs(s.result.fault_current_a), "A"),
            format_quantity(abs(s.result.local_current_a), "A"),
            format_quantity(abs(s.result.mat_current_a), "A"),
            format_percent(s.result.split_factor),
            format_quantity(gpr[s.scenario], "V"),
        ]
        for s in study.split
    ]
    return table(
        "Governing place of each fault. “Ideal” is 3I0 with all earths at zero, “real” with the earths as "
        "they are; “local” is the part whose neutral is on the station's metal; the rise includes the "
        "decrement factor",
        ["Fault", "Governing place", "3I0 ideal", "3I0 real", "Local", "Mat", "Split factor", "Rise"],
        rows,
        align="llrrrrrr",
        widths=["1.2fr", "1fr", *["auto"] * 6],
        small=True,
    )


def _cases(study: Study) -> list[Block | None]:
    """Split factors of the other soil cases."""
    if len(study.soil_cases) < 2:
        return []
    names = [s.scenario for s in study.split]
    rows = [
        [
            f"{case.name}{' (governs)' if case.governs else ''}",
            format_quantity(case.resistance_ohm, "ohm"),
            *(format_percent(case.split_factors.get(name)) for name in names),
        ]
        for case in study.soil_cases
    ]
    columns = ["Soil case", "Resistance", *names]
    align = "lr" + "r" * len(names)
    return [table("Split factor in each soil case", columns, rows, align=align, small=True)]


def _routes(study: Study) -> Block | None:
    net = study.project.network
    assert net is not None
    rows = [_line_row(r) for r in net.lines if r.name not in net.reduced]
    rows += [[n, "by reduction factor only", "—", "—", f"r = {r:g}"] for n, r in net.reduced.items()]
    rows += [_cable_row(c) for c in net.cables]
    return table(
        "Routes that leave the station",
        ["Route", "To", "Length", "Earths on the way", "Earthed metal"],
        rows,
        align="llrll",
        widths=["auto", "auto", "auto", "1fr", "1.4fr"],
        small=True,
    )


def _line_row(line: OverheadLine) -> list[str]:
    feet = [ohm for ohm in line.tower_resistances_ohm if ohm != float("inf")]
    bare = len(line.tower_resistances_ohm) - len(feet)
    spread = f"{min(feet):g}" if feet and min(feet) == max(feet) else ""
    if feet and not spread:
        spread = f"{min(feet):g} to {max(feet):g}"
    what = "poles" if line.kind == "neutral" else "towers"
    earths = f"{len(feet)} {what} of {spread} Ω" if feet else "none"
    wires = [f"{w.name}: {1000 * w.resistance_ohm_per_m:.3g} Ω/km" for w in line.ground_wires]
    if line.given is not None:
        wires = [
            f"given: {format_value(1000 * row[i], 3)} Ω/km"
            for i, row in enumerate(line.given.ground_ohm_per_m)
        ]
    if line.shielded_spans is not None:
        wires.append(f"over {line.shielded_spans} of {len(line.span_lengths_m)} spans")
    wires += [] if line.bonded_near else ["insulated at this station"]
    return [
        line.name,
        line.far_station or "open end",
        f"{line.length_m / 1000:.3g} km",
        earths + (f", {bare} without earth" if bare else ""),
        "; ".join(wires) or "no earth wire",
    ]


def _cable_row(cable: Cable) -> list[str]:
    count = len(cable.positions_m)
    if cable.sheath is not None:
        ohm = f"{1000 * cable.sheath.resistance_ohm_per_m:.3g} Ω/km"
        metal = f"{'sheath' if count == 1 else f'{count} sheaths'} of {ohm}"
    else:
        metal = "given impedances"
    joints = [f"{j.earth_resistance_ohm:g} Ω at {j.distance_m:g} m" for j in cable.joints]
    extra = f", with {cable.continuity.name}" if cable.continuity else ""
    return [
        cable.name,
        cable.far_station,
        f"{cable.length_m / 1000:.3g} km",
        "; ".join(joints) or "none",
        f"{metal}, {BONDINGS[cable.bonding]}{extra}",
    ]


def _scenario(split: ScenarioSplit, number: int) -> list[Block | None]:
    place = split.result.place
    where = "in the station" if not place.line else f"at {place.name}"
    caption = f"Currents at the station's metal, {split.scenario}, fault {where}; widths are in proportion"
    rows = [
        [
            row.name,
            KINDS.get(row.kind, row.kind),
            format_quantity(abs(row.current_a), "A"),
            f"{angle_deg(row.current_a, split.result.fault_current_a):.0f}°".replace("-", "−"),
            format_percent(row.share),
        ]
        for row in split.result.paths
    ]
    return [
        heading(f"{split.scenario}: fault {where}"),
        figure(f"current-{number}", caption, f"Currents that arrive and leave, {split.scenario}"),
        table(
            "Every path at the station's metal. Angles: 0° leaves the station in phase with the fault "
            "current, 180° arrives. Shares are sizes of phasors and do not add up to 100 %",
            ["Path", "Kind", "Current", "Angle", "Share of 3I0"],
            rows,
            align="llrrr",
            widths=["1fr", "auto", "auto", "auto", "auto"],
            small=True,
        ),
        *_places(split),
        figure(
            f"rise-{number}",
            f"Potential rise of the station and of the faulted tower, {split.scenario}",
            f"Rise against the distance of the fault, {split.scenario}",
        ),
        _towers(split),
    ]


def _places(split: ScenarioSplit) -> list[Block | None]:
    shown = sorted(split.places, key=lambda p: -p.gpr_v)[:MOST_PLACES]
    if len(split.places) < 2:
        return []
    rest = len(split.places) - len(shown)
    more = f"; {rest} places with a lower rise are in fault-places.csv" if rest else ""
    return [
        table(
            f"{len(split.places)} fault places, the highest rise first{more}",
            ["Fault place", "Distance", "3I0", "Local", "Mat", "Split", "Station rise", "Rise at the fault"],
            [_place_row(row) for row in shown],
            align="lrrrrrrr",
            widths=["1fr", *["auto"] * 7],
            small=True,
        )
    ]


def _place_row(row: PlaceRow) -> list[Any]:
    name = f"{row.place} (governs)" if row.governs else row.place
    return [
        {"bold": name} if row.governs else name,
        f"{row.distance_m:.0f} m" if row.route else "—",
        format_quantity(row.fault_current_a, "A"),
        format_quantity(row.local_current_a, "A"),
        _shown(row.mat_current_a, "A", row),
        format_percent(row.split_factor),
        _shown(row.gpr_v, "V", row),
        "—" if row.tower_rise_v is None else _shown(row.tower_rise_v, "V", row),
    ]


def _shown(value: float, unit: str, row: PlaceRow) -> str:
    """A value, or that nothing but rounding is left of it."""
    return "≈ 0" if value < NOTHING * row.fault_current_a else format_quantity(value, unit)


def _towers(split: ScenarioSplit) -> Block | None:
    """Far earths and open ends, which carry the potential away from the station."""
    result = split.result
    rows = []
    for name, volts in result.potentials_v.items():
        if name == "station" or name.startswith("remote earth of ") or abs(volts) < LEAST_V:
            continue
        current = result.earth_currents_a.get(name)
        rows.append([name, format_quantity(abs(volts), "V"), "—" if current is None else _amperes(current)])
    return table(
        "Earths away from the station for the governing place: what is transferred there",
        ["Earth", "Potential", "Current into the soil"],
        rows,
        align="lrr",
        widths=["1fr", "auto", "auto"],
        small=True,
    )


def _amperes(current: complex) -> str:
    return format_quantity(abs(current), "A")


def _balance(study: Study) -> Block | None:
    rows = []
    for s in own_splits(study):
        total = abs(s.result.fault_current_a)
        leaving = abs(sum(p.current_a for p in s.result.paths))
        rows.append(
            [
                s.scenario,
                str(len(s.result.node_residuals_a)),
                f"{leaving / total:.1e}",
                f"{s.result.worst_residual:.1e}",
                f"{s.result.power_balance:.1e}",
            ]
        )
    return table(
        "Sum of currents at every node, as a share of the fault current (accepted up to 1e-9)",
        ["Fault", "Nodes", "At the station", "Worst node", "Power given less taken"],
        rows,
        align="lrrrr",
        widths=["1fr", *["auto"] * 4],
        small=True,
    )


def _table_c(study: Study) -> list[Block | None]:
    rows = []
    for s in own_splits(study):
        if s.table is None:
            continue
        t = s.table
        rows.append(
            [
                s.scenario,
                f"{t.lines} / {t.feeders}",
                f"{format_value(t.impedance_ohm, 3)} Ω{' (derived)' if t.derived else ''}",
                format_percent(t.split_factor),
                format_percent(t.computed),
                t.remark,
            ]
        )
    caption = (
        "Estimate of IEEE Std 80-2000, Annex C (from memory, cross-checked), for a fault in the station fed "
        "from afar. It knows neither the induction by the fault current nor these wires and footings"
    )
    columns = ["Fault", "Lines / feeders", "Impedance", "By the table", "Computed", "Remark"]
    widths = ["1fr", "auto", "auto", "auto", "auto", "1fr"]
    return [table(caption, columns, rows, align="llrrrl", widths=widths, small=True)]


def _reduction(study: Study) -> Block | None:
    factors = own_splits(study)[0].reduction_factors
    rows = [[name, format_number(value, 3)] for name, value in factors.items()]
    return table(
        "Reduction factor of each route after EN 50522 (share of 3I0 that a long route does not bring home "
        "in its own earthed metal), for comparison with lists and measurements; the phase with the largest",
        ["Route", "r"],
        rows,
        align="lr",
        small=True,
    )


def _assumptions(study: Study) -> list[str]:
    net = study.project.network
    assert net is not None
    soil = net.soil or study.soil.soil
    whose = "" if net.soil else " (the surveyed one, in every soil case)"
    rows = [
        f"Earth return: soil of {soil.describe()}{whose}; "
        "at power frequency the current spreads hundreds of metres deep, so the bottom layer counts most.",
        "Load currents, the healthy phases and the coupling between routes side by side are left out.",
        "Steel is linear; footing resistances do not depend on the current.",
    ]
    for split in own_splits(study):
        rows += [f"{split.scenario}: {note}." for note in split.notes]
    return rows
