"""Current split: where the earth-fault current really goes.

The entry is :func:`solve_split`; :func:`sweep_fault_places` solves several fault places.
"""

from __future__ import annotations

from evenground.split.simple import (
    compare_with_table,
    earth_current,
    finite_ladder_impedance,
    ladder_decay,
    lagging_current,
    long_line_split,
    reduction_factor,
    source_impedance,
    table_estimate,
    typical_reduction_factors,
)
from evenground.split.solving import (
    PreparedSplit,
    equivalent_impedance,
    prepare_split,
    solve_split,
    sweep_fault_places,
)
from evenground.split.wires import (
    cable_impedances,
    conductor_shares,
    internal_impedance,
    line_impedances,
    route_reduction_factor,
)
from evenground.standards.ieee80_split import endless_ladder_impedance, split_factor_from_impedance

__all__ = [
    "PreparedSplit",
    "cable_impedances",
    "compare_with_table",
    "conductor_shares",
    "earth_current",
    "endless_ladder_impedance",
    "equivalent_impedance",
    "finite_ladder_impedance",
    "internal_impedance",
    "ladder_decay",
    "lagging_current",
    "line_impedances",
    "long_line_split",
    "prepare_split",
    "reduction_factor",
    "route_reduction_factor",
    "solve_split",
    "source_impedance",
    "split_factor_from_impedance",
    "sweep_fault_places",
    "table_estimate",
    "typical_reduction_factors",
]
