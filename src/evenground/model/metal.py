"""What was found about the metal itself: separate electrodes, voltage along the metal, potential in depth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["DepthSection", "MetalDrop", "SeparateResult"]


@dataclass(frozen=True, slots=True)
class SeparateResult:
    """A separate electrode in the governing soil case.

    Attributes
    ----------
    name : str
    resistance_ohm : float
        Its own earth resistance, when nothing else leaks. [ohm]
    mutual_ohm : float
        Its potential per ampere that the main electrode alone leaks. [ohm]
    share : float
        Its potential as a fraction of the potential rise of the main electrode.
    leaked_share : float
        Current it leaks as a fraction of all current into the earth; 0 for floating metal.
    potential_v : dict
        Scenario -> potential against far earth. [V]
    floating : bool
    """

    name: str
    resistance_ohm: float
    mutual_ohm: float
    share: float
    leaked_share: float
    potential_v: dict[str, float]
    floating: bool


@dataclass(frozen=True, slots=True)
class MetalDrop:
    """Voltage along the metal, with the fault current entering at stated points.

    Attributes
    ----------
    impedance_ohm : complex
        Highest potential of the metal per ampere. [ohm]
    resistance_ohm : float
        Earth resistance of the same metal at one potential. [ohm]
    drop_v : dict
        Scenario -> largest difference between an entry point and any other bonded metal. [V]
    furthest_m : (x, y, z)
        Where that is. [m]
    out_of_phase : float
        Largest part of the surface potential out of phase with the potential rise, as its fraction.
    """

    impedance_ohm: complex
    resistance_ohm: float
    drop_v: dict[str, float]
    furthest_m: tuple[float, float, float]
    out_of_phase: float
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class DepthSection:
    """Potential in depth below a straight line, as a fraction of the potential rise.

    ``along_m`` (n,) from the start, ``depth_m`` (m,), ``potential`` (m, n). [m, -]
    """

    name: str
    start_m: tuple[float, float]
    end_m: tuple[float, float]
    along_m: NDArray[np.float64]
    depth_m: NDArray[np.float64]
    potential: NDArray[np.float64]
