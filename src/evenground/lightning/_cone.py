"""The fixed-angle method: a cone under every mast, a tent under every wire."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from evenground.errors import OutOfRangeError
from evenground.lightning._scene import box_edges, wire_points
from evenground.model.lightning import Terminals

__all__ = ["equivalent_angle_deg", "inside_cones"]

Floats = NDArray[np.float64]


def inside_cones(terminals: Terminals, points_m: Floats, angle_deg: float) -> NDArray[np.bool_]:
    """Whether points (x, y, height) lie under a straight line at this angle from a terminal. [m, degrees]

    Common practice: 45 or 30 degrees; without a sphere it knows nothing of the height of the terminals.

    Raises
    ------
    OutOfRangeError
        For an angle outside 0 to 90 degrees.
    """
    if not 0.0 < angle_deg < 90.0:
        raise OutOfRangeError(f"angle must lie between 0 and 90 degrees, got {angle_deg!r}")
    slope = math.tan(math.radians(angle_deg))
    apexes = [np.array([(*m.at_m, m.height_m) for m in terminals.masts]).reshape(-1, 3)]
    apexes += [wire_points(w, 0.5) for w in terminals.wires]
    apexes += [box_edges(b, 0.5) for b in terminals.buildings]
    inside = np.zeros(len(points_m), dtype=np.bool_)
    for tip in np.vstack(apexes):
        away = np.hypot(points_m[:, 0] - tip[0], points_m[:, 1] - tip[1])
        inside |= away <= (tip[2] - points_m[:, 2]) * slope
    return inside


def equivalent_angle_deg(height_m: float, sphere_radius_m: float) -> float:
    """Angle of the cone that covers the same circle on the ground as the rolling sphere does. [degrees]

    Raises
    ------
    OutOfRangeError
        For a mast taller than the sphere's radius, which has no such angle.
    """
    if not 0.0 < height_m <= sphere_radius_m:
        raise OutOfRangeError(
            f"height {height_m!r} m must lie between 0 and the radius {sphere_radius_m!r} m"
        )
    return math.degrees(math.atan2(math.sqrt(height_m * (2.0 * sphere_radius_m - height_m)), height_m))
