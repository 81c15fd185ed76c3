"""What goes into a limit and what comes out."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields

from evenground.standards._checks import need, need_positive
from evenground.standards.limits.body import BodyModel, BodyPath
from evenground.standards.limits.curves import TimeCurve

__all__ = ["EVIDENCE", "LimitCase", "Limits", "StandardLimits", "options_in_words", "weakest"]

EVIDENCE = ("from memory", "from memory, cross-checked", "stated", "derived", "found")
"""Words for how well a number is known, weakest first."""


def weakest(words: Iterable[str]) -> str:
    """The weakest of several words of evidence."""
    return min(words, key=EVIDENCE.index)


@dataclass(frozen=True, slots=True)
class LimitCase:
    """A person, the ground they stand on, and how long the fault lasts.

    None always means: what the standard itself takes.

    Attributes
    ----------
    standard : str
        Key in ``STANDARDS``; it fixes edition and, for IEEE Std 80, the body mass.
    shock_time_s : float
        Duration of exposure. [s]
    native_resistivity_ohm_m : float
        Soil under the feet or under the cover. [ohm m]
    surface_resistivity_ohm_m : float or None
        Cover; None: bare soil. [ohm m]
    surface_thickness_m : float
        [m]
    surface_factor : str or None
        Form of the layer factor: ``"empirical"``, ``"exact"``, ``"series 1986"``, ``"0.106"``, or ``"none"``
        (the cover counts as if it were endless).
    footwear_ohm : float or None
        Resistance of one shoe; 0: bare feet. [ohm]
    footing : str or None
        What people stand on, for tables by footing: ``"soil"``, ``"chippings_75mm"``, ``"chippings_150mm"``.
    body : BodyModel, str or None
        Body impedance or its key in ``BODIES``.
    body_percentile : float
        Share of people whose impedance is not above the value used, 5 to 95. [%]
    current : TimeCurve, str or None
        Body current or its key in ``FIBRILLATION``.
    paths : tuple of BodyPath or None
    combine : str
        ``"mean"``: mean of the paths as in EN 50522; ``"worst"``: path with the lowest voltage.
    step_path : BodyPath or None
        Path of the step; None: foot to foot with the heart-current factor of IEC TS 60479-1.
    """

    standard: str = "ieee80_50kg"
    shock_time_s: float = 0.5
    native_resistivity_ohm_m: float = 100.0
    surface_resistivity_ohm_m: float | None = None
    surface_thickness_m: float = 0.0
    surface_factor: str | None = None
    footwear_ohm: float | None = None
    footing: str | None = None
    body: BodyModel | str | None = None
    body_percentile: float = 50.0
    current: TimeCurve | str | None = None
    paths: tuple[BodyPath, ...] | None = None
    combine: str = "mean"
    step_path: BodyPath | None = None

    def __post_init__(self) -> None:
        need_positive(shock_time_s=self.shock_time_s, native_resistivity_ohm_m=self.native_resistivity_ohm_m)
        if self.surface_resistivity_ohm_m is not None:
            need_positive(
                surface_resistivity_ohm_m=self.surface_resistivity_ohm_m,
                surface_thickness_m=self.surface_thickness_m,
            )
        if self.footwear_ohm is not None:
            need(0.0 <= self.footwear_ohm < 1e12, f"a shoe cannot have {self.footwear_ohm!r} ohm")
        need(self.combine in ("mean", "worst"), f"combine must be 'mean' or 'worst', got {self.combine!r}")
        need(self.paths is None or len(self.paths) > 0, "give at least one path, or None")

    @property
    def covered(self) -> bool:
        """Whether a cover lies on the soil."""
        return self.surface_resistivity_ohm_m is not None

    def stated(self) -> tuple[str, ...]:
        """Names of the options that differ from their default, in order of the fields."""
        always = ("standard", "shock_time_s", "native_resistivity_ohm_m")
        return tuple(
            f.name for f in fields(self) if f.name not in always and getattr(self, f.name) != f.default
        )


@dataclass(frozen=True, slots=True)
class Limits:
    """Tolerable voltages and what they rest on.

    Attributes
    ----------
    standard : str
    touch_v, step_v, metal_v : float or None
        Prospective touch, step, and metal-to-metal touch; None: the standard gives none, ``outside`` or
        ``notes`` say why. [V]
    source, clause : str
    evidence : str
        Weakest link: one of ``EVIDENCE``. ``"from memory"`` has not been seen in print.
    notes : tuple of str
    outside : tuple of str
        Every breach of a range of validity. A check against these limits is not decided.
    surface_factor : float or None
        Layer factor used, when the standard has one. [-]
    """

    standard: str
    touch_v: float | None
    step_v: float | None
    source: str
    clause: str
    evidence: str
    notes: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()
    metal_v: float | None = None
    surface_factor: float | None = None

    @property
    def decided(self) -> bool:
        """Whether there is a touch limit inside every range of validity."""
        return self.touch_v is not None and not self.outside


@dataclass(frozen=True, slots=True)
class StandardLimits:
    """An entry of the register.

    ``options`` names the fields of a case that the standard can use beyond time and soil; others are
    reported as not used. ``basis`` says in a few words what the numbers rest on.
    """

    key: str
    title: str
    edition: str
    region: str
    basis: str
    function: Callable[[LimitCase], Limits]
    options: tuple[str, ...] = ()


_WORDS = {
    "surface_resistivity_ohm_m": "resistivity of the cover",
    "surface_thickness_m": "thickness of the cover",
    "surface_factor": "layer factor",
    "footwear_ohm": "footwear",
    "body_percentile": "percentage of the body",
    "step_path": "path of the step",
}


def options_in_words(names: Iterable[str]) -> str:
    """Fields of a case as people call them."""
    return ", ".join(_WORDS.get(name, name.replace("_", " ")) for name in names)
