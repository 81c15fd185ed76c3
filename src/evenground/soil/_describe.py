"""The spread of the chosen soil in the form that reports and pages show."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from evenground.errors import NotConvergedError
from evenground.model.soil import ArrayKind, SoilResult, SoilSpread
from evenground.soil._posterior import soil_posterior
from evenground.soil._spread import curve_band, equivalence_words

__all__ = ["with_spread"]


def with_spread(result: SoilResult, progress: Callable[[float], None] | None = None) -> SoilResult:
    """The result with what its readings leave open; unchanged when they can not say.

    Readings are needed, and no more layers than can be sampled.
    """
    try:
        posterior = soil_posterior(result, progress=progress)
    except (ValueError, NotConvergedError):
        return result
    band: tuple[tuple[float, ...], ...] = ()
    if any(r.array is ArrayKind.WENNER for r in result.readings) and result.curve_positions_m:
        rows = curve_band(posterior, result.curve_positions_m, levels=(0.025, 0.975))
        band = tuple(tuple(float(v) for v in row) for row in rows)
    spread = SoilSpread(
        names=posterior.names,
        quantiles=tuple((q[0], q[2], q[4]) for q in posterior.quantiles),
        words=(*equivalence_words(posterior), *posterior.notes),
        method=posterior.method,
        band_ohm_m=band,
    )
    return replace(result, spread=spread)
