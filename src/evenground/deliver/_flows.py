"""The currents at the station's metal, route by route, sorted into those that arrive and those that leave."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from evenground.model.network import ScenarioSplit

__all__ = ["Flow", "split_flows"]

WIRES = ("ground wire", "neutral", "sheath", "continuity conductor")


@dataclass(frozen=True)
class Flow:
    """One current at the station's metal; ``share`` is its size over that of the fault current. [A, -]

    ``turned`` is positive when it leaves, seen along the fault current.
    """

    name: str
    kind: str
    current: complex
    share: float
    turned: float

    @property
    def leaves(self) -> bool:
        """Away from the station's metal, in the sense of the fault current."""
        return self.turned >= 0.0


def split_flows(split: ScenarioSplit) -> list[Flow]:
    """Every current at the station's metal, the wires of one route together, the largest first."""
    result = split.result
    total = result.fault_current_a
    sums: dict[tuple[str, str], complex] = {}
    for row in result.paths:
        wire = row.kind in WIRES
        key = (row.name.split(": ")[0], "wire") if wire else (row.name, row.kind)
        sums[key] = sums.get(key, 0j) + row.current_a
    flows = [
        Flow(name, kind, current, abs(current) / abs(total), (current * total.conjugate()).real)
        for (name, kind), current in sums.items()
    ]
    return sorted(flows, key=lambda flow: -flow.share)
