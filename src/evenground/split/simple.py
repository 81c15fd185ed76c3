"""Hand methods beside the network: ladders, reduction factors, tabulated estimates."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenground.errors import OutOfRangeError
from evenground.model.split import SplitResult
from evenground.provenance import equation
from evenground.standards.ieee80_split import (
    EQUIVALENT_IMPEDANCE_LOW,
    EQUIVALENT_IMPEDANCE_TOWERS_100,
    endless_ladder_impedance,
    split_factor_from_impedance,
)
from evenground.standards.reduction_factors import REDUCTION_FACTORS, ReductionFactor

__all__ = [
    "TableComparison",
    "TableEstimate",
    "compare_with_table",
    "earth_current",
    "finite_ladder_impedance",
    "ladder_decay",
    "lagging_current",
    "long_line_split",
    "reduction_factor",
    "source_impedance",
    "table_estimate",
    "typical_reduction_factors",
]

_NETWORK = "network theory"


@equation(
    "r",
    "",
    source="EN 50522, Annex I, definition; two coupled wires with earth return (network theory)",
    symbols="z_m z_s",
    form="1 - z_m/z_s",
    evidence="from memory, cross-checked",
)
def reduction_factor(mutual_ohm_per_m: complex, self_ohm_per_m: complex) -> complex:
    """Share of 3I0 that does not return in the ground wire or sheath of a long route. [-]

    ``self_ohm_per_m`` belongs to the earthed conductor, ``mutual_ohm_per_m`` couples it with the phase.
    """
    if self_ohm_per_m == 0:
        raise OutOfRangeError("self_ohm_per_m is zero")
    return 1.0 - mutual_ohm_per_m / self_ohm_per_m


@equation(
    "Z",
    "ohm",
    source=f"ladder of equal spans and towers ({_NETWORK})",
    symbols="Z_s R_t n Z_e",
    text="Z_k = Z_s + Z_(k-1) parallel R_t, k = 2..n; Z_1 = Z_s + R_t parallel Z_e",
)
def finite_ladder_impedance(
    span_ohm: complex, tower_ohm: float, spans: int, end_ohm: complex = math.inf
) -> complex:
    """Ladder of ``spans`` spans, each followed by a tower; ``end_ohm`` is parallel to the last. [ohm]"""
    if spans < 1 or not tower_ohm > 0.0 or not math.isfinite(tower_ohm):
        raise OutOfRangeError(f"a ladder needs spans and a tower above zero, got {spans}, {tower_ohm!r} ohm")
    end_admittance = 0.0 if end_ohm == math.inf else 1.0 / end_ohm
    z = span_ohm + 1.0 / (1.0 / tower_ohm + end_admittance)
    for _ in range(spans - 1):
        z = span_ohm + tower_ohm * z / (tower_ohm + z)
    return z


@equation(
    "a",
    "",
    source=f"endless ladder of equal spans and towers ({_NETWORK})",
    symbols="Z_s R_t",
    text="(Z - Z_s)/Z with Z of the endless ladder: potential of a tower over that of the one before",
)
def ladder_decay(span_ohm: complex, tower_ohm: float) -> complex:
    """Potential of a tower over that of the tower before it. [-]"""
    z = endless_ladder_impedance(span_ohm, tower_ohm)
    return (z - span_ohm) / z


@equation(
    "S_f",
    "",
    source=f"long line: reduction factor times current division ({_NETWORK})",
    symbols="r Z R_g",
    form="r*Z/(R_g + Z)",
)
def long_line_split(reduction: complex, ladder_ohm: complex, mat_resistance_ohm: float) -> complex:
    """Share of the mat when one line with its far source is long against the ladder's decay. [-]"""
    if not (math.isfinite(mat_resistance_ohm) and mat_resistance_ohm > 0.0):
        raise OutOfRangeError(f"mat_resistance_ohm must be above zero, got {mat_resistance_ohm!r}")
    return reduction * ladder_ohm / (mat_resistance_ohm + ladder_ohm)


@equation(
    "I_E",
    "A",
    source="EN 50522, current to earth with reduction factor",
    symbols="r I_3I0 I_N",
    form="r*(I_3I0 - I_N)",
    evidence="from memory",
)
def earth_current(reduction: complex, fault_current_a: complex, local_neutral_a: complex = 0j) -> complex:
    """Current to earth of a station fed through lines of one reduction factor. [A]

    ``local_neutral_a`` comes home through the neutral of the station's own transformers.
    """
    return reduction * (fault_current_a - local_neutral_a)


@equation(
    "Z",
    "ohm",
    source=f"symmetrical components, one line to earth ({_NETWORK})",
    symbols="Z_1 Z_2 Z_0",
    form="(Z_1 + Z_2 + Z_0)/3",
)
def source_impedance(z1_ohm: complex, z2_ohm: complex, z0_ohm: complex) -> complex:
    """Impedance in which 3I0 flows, behind the phase voltage, for a fault of one line to earth. [ohm]"""
    return (z1_ohm + z2_ohm + z0_ohm) / 3.0


def lagging_current(current_a: float, x_over_r: float) -> complex:
    """Phasor of a current that lags its real driving voltage by atan(X/R). [A]"""
    if not (current_a > 0.0 and x_over_r >= 0.0 and math.isfinite(current_a)):
        raise OutOfRangeError(f"current_a and x_over_r must be positive, got {current_a!r}, {x_over_r!r}")
    angle = math.atan(x_over_r)
    return complex(current_a * math.cos(angle), -current_a * math.sin(angle))


def typical_reduction_factors(words: str) -> tuple[ReductionFactor, ...]:
    """Rows of the list in EN 50522, Annex I, whose description holds every word; from memory.

    Orientation for a cross-check, never a design value.
    """
    wanted = words.lower().split()
    return tuple(row for row in REDUCTION_FACTORS if all(w in row.line.lower() for w in wanted))


@dataclass(frozen=True, slots=True)
class TableEstimate:
    """Equivalent impedance of lines and feeders after IEEE Std 80, Table C.1. [ohm]

    ``derived`` is True when the row is not in the table and was formed from the admittances of others.
    """

    lines: int
    feeders: int
    impedance_ohm: complex
    derived: bool
    source: str = "IEEE Std 80-2000, Table C.1"
    evidence: str = "from memory, cross-checked"


def table_estimate(lines: int, feeders: int, *, poor_earths: bool = False) -> TableEstimate:
    """Table C.1 for tower and feeder earths of 15 and 25 ohm, or 100 and 200 ohm (``poor_earths``).

    Rows that are not in the table are formed from the admittances of one line and one feeder which rows
    1/1 and 1/2 imply.

    Raises
    ------
    OutOfRangeError
        When there is neither a line nor a feeder, or more than 16 of one.
    """
    if lines < 0 or feeders < 0 or lines + feeders == 0 or max(lines, feeders) > 16:
        raise OutOfRangeError(f"no estimate for {lines} lines and {feeders} feeders")
    table = EQUIVALENT_IMPEDANCE_TOWERS_100 if poor_earths else EQUIVALENT_IMPEDANCE_LOW
    if (lines, feeders) in table:
        return TableEstimate(lines, feeders, table[lines, feeders], derived=False)
    feeder = 1.0 / table[1, 2] - 1.0 / table[1, 1]
    line = 1.0 / table[1, 1] - feeder
    return TableEstimate(lines, feeders, 1.0 / (lines * line + feeders * feeder), derived=True)


@dataclass(frozen=True, slots=True)
class TableComparison:
    """Split factor of the network beside that of the table; ``ratio`` is network over table. [-]"""

    estimate: TableEstimate
    table_split: float
    network_split: float
    ratio: float
    remark: str


def compare_with_table(result: SplitResult, estimate: TableEstimate) -> TableComparison:
    """Set the network's remote split factor beside current division with the table's impedance.

    The table knows neither the induction by the fault current nor the site's wires and footings; a
    factor of two between them is no contradiction, more asks for a look at the inputs (common practice).

    Raises
    ------
    OutOfRangeError
        When the whole fault current is local, or the mat's impedance is not a resistance.
    """
    share = result.remote_split_factor
    if share is None:
        raise OutOfRangeError("the fault current is local; the table is for faults fed from afar")
    mat = complex(result.mat_resistance_ohm)
    if mat.imag != 0.0:
        raise OutOfRangeError("the table's division needs a resistance, not an impedance")
    table = split_factor_from_impedance(estimate.impedance_ohm, mat.real)
    ratio = share / table
    near = 0.5 <= ratio <= 2.0
    remark = (
        "same order as the table" if near else "more than a factor of two from the table: check the inputs"
    )
    return TableComparison(estimate, table, share, ratio, remark)
