"""Metal in the ground: straight conductors in 3-D, bonded into groups."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from math import dist, isfinite

__all__ = ["Conductor", "Electrode", "Embedding", "Point3"]

Point3 = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Embedding:
    """A cylinder of other material around a conductor: concrete, bentonite, earthing compound. [m, ohm m]"""

    outer_radius_m: float
    resistivity_ohm_m: float
    material: str = ""


@dataclass(frozen=True, slots=True)
class Conductor:
    """A straight round conductor; z is depth, positive down.

    Attributes
    ----------
    start_m, end_m : (x, y, z)
        Ends of the axis. [m]
    radius_m : float
        Radius, or the equivalent radius of another section. [m]
    kind : str
        ``"mat"``, ``"rod"``, ``"riser"``, ``"run"``, ``"fence"`` or another word for schedules.
    group : str
        Conductors of one group are bonded to each other.
    tag : str
        Name on drawings.
    key : str
        Kind of conductor in the project, which decides its metal; empty: not known.
    embedding : Embedding or None
        What it is embedded in, when not in native soil.
    """

    start_m: Point3
    end_m: Point3
    radius_m: float
    kind: str = "mat"
    group: str = "mat"
    tag: str = ""
    key: str = ""
    embedding: Embedding | None = None

    def __post_init__(self) -> None:
        start = tuple(float(v) for v in self.start_m)
        end = tuple(float(v) for v in self.end_m)
        object.__setattr__(self, "start_m", start)
        object.__setattr__(self, "end_m", end)
        if len(start) != 3 or len(end) != 3 or not all(isfinite(v) for v in (*start, *end)):
            raise ValueError(f"conductor {self.tag or self.kind}: needs two points of three finite numbers")
        if not (isfinite(self.radius_m) and self.radius_m > 0):
            raise ValueError(f"radius_m: {self.radius_m} is not a finite number above 0")
        if min(start[2], end[2]) < 0:
            raise ValueError("start_m, end_m: z is depth below the surface and can not be negative")
        if self.length_m <= 2 * self.radius_m:
            raise ValueError(
                f"conductor {self.tag or self.kind} from {start} to {end}: "
                f"length {self.length_m:.4g} m must exceed its diameter {2 * self.radius_m:.4g} m"
            )

    @property
    def length_m(self) -> float:
        """Length. [m]"""
        return dist(self.start_m, self.end_m)


@dataclass(frozen=True)
class Electrode:
    """A set of conductors; ``+`` joins two sets."""

    conductors: tuple[Conductor, ...] = ()

    def __init__(self, conductors: Iterable[Conductor] = ()) -> None:
        object.__setattr__(self, "conductors", tuple(conductors))

    def __add__(self, other: Electrode) -> Electrode:
        return Electrode(self.conductors + other.conductors)

    def __iter__(self) -> Iterator[Conductor]:
        return iter(self.conductors)

    def __len__(self) -> int:
        return len(self.conductors)

    @property
    def total_length_m(self) -> float:
        """Length of all conductors. [m]"""
        return sum(c.length_m for c in self.conductors)

    @property
    def groups(self) -> tuple[str, ...]:
        """Names of the bonded groups, in order of appearance."""
        return tuple(dict.fromkeys(c.group for c in self.conductors))

    def of_kind(self, *kinds: str) -> Electrode:
        """Only the conductors of these kinds."""
        return Electrode(c for c in self.conductors if c.kind in kinds)

    def of_group(self, group: str) -> Electrode:
        """Only the conductors of one group."""
        return Electrode(c for c in self.conductors if c.group == group)

    def translated(self, dx_m: float, dy_m: float, dz_m: float = 0.0) -> Electrode:
        """A copy moved by a vector. [m]"""

        def move(p: Point3) -> Point3:
            return (p[0] + dx_m, p[1] + dy_m, p[2] + dz_m)

        return Electrode(replace(c, start_m=move(c.start_m), end_m=move(c.end_m)) for c in self.conductors)
