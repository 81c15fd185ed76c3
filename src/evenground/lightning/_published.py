"""Effective sizes from published formulas, beside what the net gives."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from evenground.errors import OutOfRangeError
from evenground.model.lightning import EffectiveSize, PublishedSize
from evenground.provenance import info, outside_range
from evenground.standards.impulse import (
    grcev_effective_length,
    grcev_effective_side,
    gupta_thapar_radius,
    simple_effective_length,
)

__all__ = ["effective_size", "published_sizes"]

_SATURATED = 0.03


def published_sizes(
    resistivity_ohm_m: float, peak_time_us: float, mesh_m: float | None = None
) -> tuple[PublishedSize, ...]:
    """Effective lengths and sizes of published formulas; none has an entry where it gives no value.

    ``peak_time_us`` is the time from the start of the current to its peak; the radii of Gupta and Thapar
    need the mesh of the mat. [us, m]
    """
    rows: list[PublishedSize] = []

    def add(name: str, function: Callable[..., float], *arguments: Any) -> None:
        try:
            value = function(*arguments)
        except OutOfRangeError:
            return
        details = info(function)
        rows.append(
            PublishedSize(
                name,
                value,
                details.unit,
                details.source,
                outside_range(function, *arguments),
                details.evidence,
            )
        )

    add("effective length of a wire fed at its end", grcev_effective_length, resistivity_ohm_m, peak_time_us)
    add("effective length of a wire, rule of thumb", simple_effective_length, resistivity_ohm_m)
    for word, k in (("in its centre", 1.0), ("at a corner", 0.5)):
        add(
            f"effective side of a square mat fed {word}",
            grcev_effective_side,
            resistivity_ohm_m,
            peak_time_us,
            k,
        )
    if mesh_m is not None:
        for word, corner in (("in its centre", False), ("at a corner", True)):
            add(
                f"effective radius of a mat fed {word}",
                gupta_thapar_radius,
                resistivity_ohm_m,
                peak_time_us,
                mesh_m,
                corner,
            )
    return tuple(rows)


def effective_size(
    sizes_m: Sequence[float], resistances_ohm: Sequence[float], impedances_ohm: Sequence[float]
) -> EffectiveSize:
    """Effective size from a series of electrodes of rising size with their impulse impedances.

    Raises
    ------
    ValueError
        When fewer than three sizes are given, or they do not rise.
    """
    sizes, resistances = np.asarray(sizes_m, float), np.asarray(resistances_ohm, float)
    impedances = np.asarray(impedances_ohm, float)
    if (
        len(sizes) < 3
        or np.any(np.diff(sizes) <= 0.0)
        or not len(sizes) == len(resistances) == len(impedances)
    ):
        raise ValueError("sizes_m: give at least three rising sizes with resistance and impedance each")
    last = float(impedances[-1])
    saturated = bool(abs(impedances[-2] / last - 1.0) <= _SATURATED)
    effective: float | None = None
    reason = ""
    if not saturated:
        reason = "the impedance still falls with the largest size computed"
    elif not resistances[-1] <= last <= resistances[0]:
        saturated, reason = False, "the resistance does not cross the impedance within the sizes computed"
    else:
        effective = float(np.exp(np.interp(np.log(last), np.log(resistances[::-1]), np.log(sizes[::-1]))))
    return EffectiveSize(
        tuple(map(float, sizes)),
        tuple(map(float, resistances)),
        tuple(map(float, impedances)),
        saturated,
        effective,
        reason,
    )
