"""What soil readings leave open, in the form that people read."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["SoilSpread"]


@dataclass(frozen=True, slots=True)
class SoilSpread:
    """What the readings leave open, for people.

    Attributes
    ----------
    names : tuple of str
        Parameters: resistivities from the top down, then thicknesses.
    quantiles : tuple of tuple of float
        Per parameter at 2.5, 50 and 97.5 %. [ohm m, m]
    words : tuple of str
        What is known and what is not.
    method : str
        ``"grid"`` or ``"particles"``.
    band_ohm_m : tuple of tuple of float
        Sounding curve at 2.5 and 97.5 %, at ``curve_positions_m`` for the Wenner array; empty without
        one. [ohm m]
    """

    names: tuple[str, ...]
    quantiles: tuple[tuple[float, float, float], ...]
    words: tuple[str, ...]
    method: str
    band_ohm_m: tuple[tuple[float, ...], ...] = ()
