"""The spread of a soil result: the posterior of the model that was chosen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import sqrt

from evenground.model.soil import SoilPosterior, SoilResult
from evenground.soil._grid import two_layer_posterior
from evenground.soil._particles import layered_posterior

__all__ = ["soil_posterior"]

NOTABLE = 1.2
"""Widening of the noise by misfit that is applied and told; less is chance."""


def soil_posterior(
    result: SoilResult, *, soils: int = 200, progress: Callable[[float], None] | None = None
) -> SoilPosterior:
    """What the readings leave open about the number of layers chosen, with the noise found.

    Where that many layers miss the readings by more than the noise, the noise is widened to the misfit and a
    note says so: a model that is not right must not look certain.

    Two layers come from a grid (about 0.1 s), others from particles (seconds).

    Parameters
    ----------
    result : SoilResult
        With readings; a given model is replaced by what the readings say of as many layers.
    soils : int
        Number of equally probable soils to hand on.
    progress : callable, optional
        Called with the fraction done; may raise to stop.

    Raises
    ------
    ValueError
        When the result has no readings, or more layers than can be sampled.
    """
    if result.noise is None or not any(r.used for r in result.readings):
        raise ValueError("soil_posterior: the result has no readings; a given model alone has no spread")
    layers = result.soil.layers
    noise, notes = _noise_with_misfit(result, result.noise, layers)
    if layers == 2:
        posterior = two_layer_posterior(result.readings, noise=noise, soils=soils)
    else:
        posterior = layered_posterior(
            result.readings, layers=layers, noise=noise, soils=soils, progress=progress
        )
    return replace(posterior, notes=(*notes, *posterior.notes))


def _noise_with_misfit(result: SoilResult, noise: float, layers: int) -> tuple[float, tuple[str, ...]]:
    """The noise, widened to what a fit of as many layers leaves when that is more, and a note on it."""
    chi_squares = [
        c.reduced_chi_square for c in result.candidates if c.soil.layers == layers and c.name != "given"
    ]
    widening = sqrt(max(1.0, chi_squares[0] or 1.0)) if chi_squares else 1.0
    if widening < NOTABLE:
        return noise, ()
    return noise * widening, (
        f"the readings scatter about {layers} layers by {noise * widening:.1%}, more than their noise of "
        f"{noise:.1%}; the spread is computed with the larger figure",
    )
