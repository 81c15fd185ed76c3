"""Layouts that several tests share."""

import numpy as np

from evenground.electrode import perimeter_points, rectangular_mat, rods_at
from evenground.model.electrode import Conductor, Electrode


def wires(*pairs, radius=0.005):
    """Straight conductors between pairs of points."""
    return Electrode(Conductor(a, b, radius) for a, b in pairs)


def star(arms, *, length, depth, radius=0.005):
    """Equal horizontal arms from the origin."""
    angles = 2 * np.pi * np.arange(arms) / arms
    return wires(
        *(((0, 0, depth), (length * np.cos(t), length * np.sin(t), depth)) for t in angles), radius=radius
    )


def polyline(points, radius):
    """Conductors along a closed line of points."""
    return Electrode(
        Conductor(tuple(a), tuple(b), radius) for a, b in zip(points, [*points[1:], points[0]], strict=True)
    )


def ring(radius_m, depth, wire, sides=192):
    """A ring as a regular polygon of the same length."""
    t = 2 * np.pi * np.arange(sides) / sides
    r = radius_m * (np.pi / sides) / np.sin(np.pi / sides)
    return polyline([(r * np.cos(v), r * np.sin(v), depth) for v in t], wire)


def rods(places, *, length, radius, top=0.0):
    """Vertical rods."""
    return rods_at(places, length_m=length, radius_m=radius, top_depth_m=top)


def square_mat(side=70.0, meshes=10, depth=0.5, radius=0.005):
    """A square mat with equal meshes."""
    return rectangular_mat(
        length_x_m=side, length_y_m=side, meshes_x=meshes, meshes_y=meshes, depth_m=depth, radius_m=radius
    )


def corner_rods(side, count, **kind):
    """Rods at equal distances along the edge of a square."""
    return rods(perimeter_points(((0, 0), (side, 0), (side, side), (0, side)), count=count), **kind)
