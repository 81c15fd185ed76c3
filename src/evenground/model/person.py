"""Who is to be protected: body, path and current of a free case, and how often people are there."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Exposure", "OwnPath", "Person"]


@dataclass(frozen=True, slots=True)
class OwnPath:
    """A way through the body that the tables do not have. [-]

    ``feet`` says what stands in series: ``"both"`` feet side by side, ``"one"``, ``"apart"`` (in series, as
    in a step) or ``"none"``.
    """

    name: str
    heart_factor: float
    body_factor: float
    feet: str = "both"


@dataclass(frozen=True, slots=True)
class Person:
    """Body, current and paths of a free case; None: not stated.

    Attributes
    ----------
    body : str or None
        Key of a table of body impedance, or ``"fixed"``.
    body_ohm : float or None
        Of the fixed body. [ohm]
    percentile : float
        Share of people whose impedance is not above the value used, 5 to 95. [%]
    current : str or None
        Key of a curve, ``"square_root"`` (k over the root of the time), or ``"points"``.
    constant_as : float or None
        k of the square-root law. [A sqrt(s)]
    current_points : tuple of (time, current)
        Own curve. [s, A]
    paths : tuple of str
        Names of paths that the tables have.
    own_paths : tuple of OwnPath
    combine : str
        ``"worst"`` path, or the ``"mean"`` of EN 50522.
    step_heart_factor : float
        Danger of a current from foot to foot against the same current left hand to feet. [-]
    reason : str
        Why this person.
    """

    body: str | None = None
    body_ohm: float | None = None
    percentile: float = 50.0
    current: str | None = None
    constant_as: float | None = None
    current_points: tuple[tuple[float, float], ...] = ()
    paths: tuple[str, ...] = ()
    own_paths: tuple[OwnPath, ...] = ()
    combine: str = "worst"
    step_heart_factor: float = 1.0
    reason: str = ""

    @property
    def complete(self) -> bool:
        """Whether body, current and a path are stated."""
        return bool(self.body and self.current and (self.paths or self.own_paths))


@dataclass(frozen=True, slots=True)
class Exposure:
    """How often people touch metal, and how often there is a fault.

    Attributes
    ----------
    contacts_per_year : float
        Contacts of the most exposed person. [1/year]
    contact_duration_s : float
        Of one contact. [s]
    people : int
        Persons exposed as often, independently.
    faults_per_year : float or None
        Of each scenario that states none of its own. [1/year]
    governs : bool
        Whether the risk takes the place of the touch limit of the standard.
    societal_slope : float
        Steepness of the lines for several deaths. [-]
    reason : str
        Where the numbers come from.
    """

    contacts_per_year: float
    contact_duration_s: float
    people: int = 1
    faults_per_year: float | None = None
    governs: bool = False
    societal_slope: float = 1.0
    reason: str = ""
