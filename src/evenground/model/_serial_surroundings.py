"""Connections, fences, services and coverage as plain data; long lines of numbers are summarised."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from evenground.model.surroundings import Contour, FenceProfile, Surroundings

__all__ = ["surroundings_to_dict"]


def surroundings_to_dict(found: Surroundings | None, plain: Callable[[Any], Any]) -> dict[str, Any] | None:
    """Everything in it; ``plain`` turns shapes into what JSON knows. Checks and findings stand elsewhere."""
    if found is None:
        return None
    data = {f.name: plain(getattr(found, f.name)) for f in fields(found) if f.name != "boundary"}
    if found.boundary is not None:
        skipped = ("profiles", "contours", "checks", "findings")
        part = found.boundary
        data["boundary"] = {
            f.name: plain(getattr(part, f.name)) for f in fields(part) if f.name not in skipped
        }
        data["boundary"]["profiles"] = [_profile(p) for p in part.profiles]
        data["boundary"]["contours"] = [_contour(c, plain) for c in part.contours]
    return data


def _profile(row: FenceProfile) -> dict[str, Any]:
    return {
        "name": row.name,
        "scenario": row.scenario,
        "fence_v": row.fence_v,
        "points": len(row.distance_m),
        "length_m": float(row.distance_m[-1]),
        "inside_v": _range(row.inside_v),
        "outside_v": _range(row.outside_v),
    }


def _range(values: Any) -> dict[str, float] | None:
    finite = np.asarray(values)[np.isfinite(values)]
    return {"min": float(finite.min()), "max": float(finite.max())} if finite.size else None


def _contour(row: Contour, plain: Callable[[Any], Any]) -> dict[str, Any]:
    return {f.name: plain(getattr(row, f.name)) for f in fields(row) if f.name != "points_m"} | {
        "data": "contours.csv"
    }
