"""Load or compile the kernels before they are needed."""

from __future__ import annotations

import numpy as np

from evenground.field._metal import Metal
from evenground.field._network import Injection, solve_network
from evenground.field._solve import solve
from evenground.model.electrode import Conductor, Electrode
from evenground.model.soil import LayeredSoil

__all__ = ["warm_up"]


def warm_up(*, large: bool = False) -> None:
    """Compile the kernels, or load them from the cache on disk, with a tiny problem.

    The first run on a machine takes tens of seconds, later ones less than a second. ``large`` also takes
    those of the compressed solutions. For a service to call at its start.
    """
    wires = [Conductor((0.0, y, 0.5), (90.0, y, 0.5), 0.005) for y in (0.0, 10.0)]
    wires.append(Conductor((0.0, 0.0, 0.5), (0.0, 0.0, 3.0), 0.008, kind="rod"))
    electrode, soil = Electrode(wires), LayeredSoil((100.0, 50.0), (2.0,))
    found = solve(electrode, soil, segment_m=0.3)
    found.potential_v(np.zeros((1, 3)))
    g = np.linspace(0.0, 90.0, 40)
    x, y = (v.ravel() for v in np.meshgrid(g, g))
    found.potential_v(np.column_stack([x, y, np.zeros(len(x))]))
    if large:
        solve(electrode, soil, segment_m=0.3, method="compressed")
        metals = {"mat": Metal(1.78e-8), "rod": Metal(1.78e-8)}
        feed = [Injection((0.0, 0.0, 0.5), 1.0)]
        solve_network(electrode, soil, metals, feed, segment_m=0.3, method="compressed")
