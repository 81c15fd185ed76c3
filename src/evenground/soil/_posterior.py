"""The spread of a soil result: the posterior of the model that was chosen."""

from __future__ import annotations

from collections.abc import Callable

from evenground.model.soil import SoilPosterior, SoilResult
from evenground.soil._grid import two_layer_posterior
from evenground.soil._particles import layered_posterior

__all__ = ["soil_posterior"]


def soil_posterior(
    result: SoilResult, *, soils: int = 200, progress: Callable[[float], None] | None = None
) -> SoilPosterior:
    """What the readings leave open about the number of layers chosen, with the noise found.

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
    if result.soil.layers == 2:
        return two_layer_posterior(result.readings, noise=result.noise, soils=soils)
    return layered_posterior(
        result.readings, layers=result.soil.layers, noise=result.noise, soils=soils, progress=progress
    )
