"""Soil: field readings as taken, and the layered earth made from them."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from math import isfinite

from evenground.model.soil_spread import SoilSpread

__all__ = [
    "ApparentReading",
    "ArrayKind",
    "Earthworks",
    "LayeredSoil",
    "SeasonalState",
    "SoilCandidate",
    "SoilChoice",
    "SoilPosterior",
    "SoilReading",
    "SoilResult",
    "SoilSpread",
    "Traverse",
]


def _four(value: float) -> str:
    """Four significant digits without a power of ten."""
    return f"{float(f'{value:.4g}'):.10g}"


class ArrayKind(StrEnum):
    """Arrangement of the four probes, or a rod driven deeper and deeper."""

    WENNER = "wenner"
    SCHLUMBERGER = "schlumberger"
    FOUR_PROBE = "four_probe"
    DRIVEN_ROD = "driven_rod"


@dataclass(frozen=True, slots=True)
class LayeredSoil:
    """Horizontally layered earth; the last layer reaches to infinity.

    Attributes
    ----------
    resistivities_ohm_m : tuple of float, length N
        From the top layer down, each > 0. [ohm m]
    thicknesses_m : tuple of float, length N - 1
        Of the layers above the last, each > 0. [m]

    Raises
    ------
    ValueError
        When a value is not finite and positive or the lengths do not fit.
    """

    resistivities_ohm_m: tuple[float, ...]
    thicknesses_m: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "resistivities_ohm_m", tuple(float(r) for r in self.resistivities_ohm_m))
        object.__setattr__(self, "thicknesses_m", tuple(float(t) for t in self.thicknesses_m))
        if not self.resistivities_ohm_m:
            raise ValueError("resistivities_ohm_m: a soil needs at least one layer")
        if len(self.thicknesses_m) != len(self.resistivities_ohm_m) - 1:
            raise ValueError(
                f"thicknesses_m: {len(self.resistivities_ohm_m)} layers need "
                f"{len(self.resistivities_ohm_m) - 1} thicknesses (the last layer is infinite), "
                f"got {len(self.thicknesses_m)}"
            )
        for name, values in (
            ("resistivities_ohm_m", self.resistivities_ohm_m),
            ("thicknesses_m", self.thicknesses_m),
        ):
            for value in values:
                if not (isfinite(value) and value > 0):
                    raise ValueError(f"{name}: {value} is not a finite number above 0")

    @property
    def layers(self) -> int:
        """Number of layers."""
        return len(self.resistivities_ohm_m)

    @property
    def interface_depths_m(self) -> tuple[float, ...]:
        """Depth of each interface below the surface. [m]"""
        depths, depth = [], 0.0
        for thickness in self.thicknesses_m:
            depth += thickness
            depths.append(depth)
        return tuple(depths)

    def layer_at(self, depth_m: float) -> int:
        """Index of the layer that holds a depth; on an interface the upper one."""
        for index, bottom in enumerate(self.interface_depths_m):
            if depth_m <= bottom:
                return index
        return self.layers - 1

    def describe(self) -> str:
        """One line for people: ``"320 ohm m to 2.69 m, 145 ohm m below"``."""
        if self.layers == 1:
            return f"uniform {_four(self.resistivities_ohm_m[0])} Ω·m"
        parts = [
            f"{_four(rho)} Ω·m to {depth:.3g} m"
            for rho, depth in zip(self.resistivities_ohm_m, self.interface_depths_m, strict=False)
        ]
        return ", ".join([*parts, f"{_four(self.resistivities_ohm_m[-1])} Ω·m below"])


@dataclass(frozen=True, slots=True)
class Earthworks:
    """Native soil taken off and fill put on after the survey. [m, m, ohm m]"""

    removed_m: float = 0.0
    fill_m: float = 0.0
    fill_resistivity_ohm_m: float | None = None


@dataclass(frozen=True, slots=True)
class SeasonalState:
    """One season: the ground down to a depth has its resistivities multiplied by a factor.

    Attributes
    ----------
    name : str
        ``"frozen"``, ``"dry"``, ``"wet"`` or another word.
    depth_m : float
        Depth of frost, drying or wetting. [m]
    factor : float
        Above 1 for dry or frozen ground, below 1 for wet ground. [-]
    reason : str
        Where depth and factor come from.

    Raises
    ------
    ValueError
        When depth or factor is not finite and positive.
    """

    name: str
    depth_m: float
    factor: float
    reason: str = ""

    def __post_init__(self) -> None:
        for name in ("depth_m", "factor"):
            value = getattr(self, name)
            if not (isfinite(value) and value > 0):
                raise ValueError(f"{name}: {value} is not a finite number above 0")


@dataclass(frozen=True, slots=True)
class SoilReading:
    """One four-probe reading as written in the field book.

    Give the resistance, or voltage and current, or (when nothing else was handed over) the apparent
    resistivity; more than one are cross-checked against each other.

    Attributes
    ----------
    spacing_m : float or None
        Wenner spacing a. [m]
    half_current_m, half_potential_m : float or None
        Schlumberger L = AB/2 and b = MN/2. [m]
    resistance_ohm, voltage_v, current_a : float or None
        As measured. [ohm, V, A]
    apparent_resistivity_ohm_m : float or None
        As stated by the surveyor. [ohm m]
    probe_depth_m : float or None
        Driven length of the probes. [m]
    use : bool
        False leaves the reading out of the fit; it stays in the tables and plots.
    note : str
    path : tuple
        Place in the project file, for messages.
    positions_m : tuple of four float or None
        Any four probes in line: abscissae of C1, P1, P2, C2; current flows between C1 and C2. [m]
    rod_length_m, rod_diameter_m : float or None
        Driven rod: length in the ground and diameter; the resistance is that to remote earth. [m]
    """

    spacing_m: float | None = None
    half_current_m: float | None = None
    half_potential_m: float | None = None
    resistance_ohm: float | None = None
    voltage_v: float | None = None
    current_a: float | None = None
    apparent_resistivity_ohm_m: float | None = None
    probe_depth_m: float | None = None
    use: bool = True
    note: str = ""
    path: tuple[str | int, ...] = ()
    positions_m: tuple[float, float, float, float] | None = None
    rod_length_m: float | None = None
    rod_diameter_m: float | None = None


@dataclass(frozen=True, slots=True)
class Traverse:
    """Readings taken along one line with one array.

    ``instrument_resolution_ohm`` is the smallest resistance step the instrument can show. [ohm]
    """

    name: str
    array: ArrayKind
    readings: tuple[SoilReading, ...]
    date: str = ""
    weather: str = ""
    instrument: str = ""
    instrument_resolution_ohm: float | None = None
    note: str = ""
    path: tuple[str | int, ...] = ()


@dataclass(frozen=True, slots=True)
class SoilChoice:
    """How the soil model is to be chosen.

    Attributes
    ----------
    select : str
        ``"auto"``, ``"uniform"``, ``"two_layer"``, ``"three_layer"``, ``"four_layer"``, ``"five_layer"`` or
        ``"given"``.
    given : LayeredSoil or None
        The model to use when ``select`` is ``"given"``.
    reason : str
        Why the engineer chose so; required with ``"given"`` when there are readings.
    norm : str
        ``"log"`` or ``"relative"`` least squares.
    noise : float or None
        Known relative standard deviation of a reading (0.05 = 5 %); None: estimated.
    most_layers : int
        Largest number of layers that ``"auto"`` may choose, 1 to 5.
    segments : str
        ``"joined"``: Schlumberger segments as read; ``"shifted"``: a factor per MN is found and taken out.
    """

    select: str = "auto"
    given: LayeredSoil | None = None
    reason: str = ""
    norm: str = "log"
    noise: float | None = None
    most_layers: int = 3
    segments: str = "joined"


@dataclass(frozen=True, slots=True)
class ApparentReading:
    """A reading after recomputation.

    ``position_m`` is the abscissa of the sounding curve: spacing a (Wenner), AB/2 (Schlumberger), a third
    of the overall length (any four probes, which ``positions_m`` then gives), or the length of a
    driven rod. [m]
    ``model_ohm_m`` and ``residual`` (ln of measured over model) belong to the chosen model. ``flags`` are
    words for what is doubtful about the reading; ``path`` is its place in the project file.
    """

    traverse: str
    array: ArrayKind
    position_m: float
    half_potential_m: float | None
    resistance_ohm: float
    apparent_resistivity_ohm_m: float
    probe_depth_m: float
    used: bool
    model_ohm_m: float = float("nan")
    residual: float = float("nan")
    flags: tuple[str, ...] = ()
    path: tuple[str | int, ...] = ()
    positions_m: tuple[float, float, float, float] | None = None
    rod_diameter_m: float | None = None

    @property
    def place(self) -> str:
        """The reading in words for people: ``"T1, a = 3 m"``."""
        if self.array is ArrayKind.WENNER:
            return f"{self.traverse}, a = {self.position_m:g} m"
        if self.array is ArrayKind.DRIVEN_ROD:
            return f"{self.traverse}, rod {self.position_m:g} m deep"
        if self.positions_m is not None:
            return f"{self.traverse}, probes at " + ", ".join(f"{x:g}" for x in self.positions_m) + " m"
        return f"{self.traverse}, AB/2 = {self.position_m:g} m, MN/2 = {self.half_potential_m:g} m"

    @property
    def wenner_spacing_m(self) -> float:
        """Wenner spacing of the same overall length: a, or AB/3. [m]"""
        return 2.0 * self.position_m / 3.0 if self.array is ArrayKind.SCHLUMBERGER else self.position_m


@dataclass(frozen=True, slots=True)
class SoilCandidate:
    """One fitted model with its quality.

    Attributes
    ----------
    name : str
        ``"uniform"``, ``"two layers"``, ... or ``"given"``.
    soil : LayeredSoil
    rms : float
        Root mean square of the residuals in the norm used (0.05 = 5 %).
    worst : float
        Largest absolute residual.
    parameters : int
    at_bounds : tuple of str
        Words for every parameter that ended on a bound; empty when none did.
    starts, agreeing : int
        Number of starting points and how many of them ended at this minimum.
    reduced_chi_square : float or None
        With a known noise only.
    bic : float
        Bayesian information criterion, smaller is better; nan when not defined.
    std_ln : tuple of float
        Linearised standard deviation of ln(resistivities), then ln(thicknesses); empty when not
        defined.
    """

    name: str
    soil: LayeredSoil
    rms: float
    worst: float
    parameters: int
    at_bounds: tuple[str, ...] = ()
    starts: int = 1
    agreeing: int = 1
    reduced_chi_square: float | None = None
    bic: float = float("nan")
    std_ln: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class SoilPosterior:
    """What the readings and their noise leave open about a layered soil.

    The prior is flat in the logarithm of every parameter inside a box. Parameters are the resistivities from
    the top down, then the thicknesses.

    Attributes
    ----------
    names : tuple of str
        ``"rho1"``, ..., ``"h1"``, ...
    quantiles : tuple of tuple of float
        Per parameter at 2.5, 16, 50, 84 and 97.5 %. [ohm m, m]
    mean_ln, std_ln : tuple of float
        Of the logarithms.
    correlation : tuple of tuple of float
        Of the logarithms.
    ln_evidence : float
        Logarithm of the probability of the readings, the likelihood without its constant.
    soils : tuple of LayeredSoil
        Equally probable soils, for carrying the spread through later stages.
    method : str
        ``"grid"`` or ``"particles"``.
    effective : float
        Number of independent soils the figures rest on; inf for a grid.
    notes : tuple of str
        What is doubtful about the figures themselves.
    """

    names: tuple[str, ...]
    quantiles: tuple[tuple[float, float, float, float, float], ...]
    mean_ln: tuple[float, ...]
    std_ln: tuple[float, ...]
    correlation: tuple[tuple[float, ...], ...]
    ln_evidence: float
    soils: tuple[LayeredSoil, ...]
    method: str
    effective: float
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SoilResult:
    """What the soil stage hands on.

    Attributes
    ----------
    soil : LayeredSoil
        The model every later stage uses.
    chosen : str
        Name of the candidate, or ``"given"``.
    reason : str
        Why, in words.
    readings : tuple of ApparentReading
    candidates : tuple of SoilCandidate
    noise : float or None
        Relative standard deviation of a reading, given or estimated.
    noise_source : str
        ``"given"``, ``"from repeated traverses"``, ``"assumed"`` or ``""``.
    longest_spacing_m : float or None
        Longest Wenner-equivalent spacing surveyed (AB/3). [m]
    warnings : tuple of str
    curve_positions_m, curves_ohm_m : tuple
        Sounding curve of each candidate for plotting: positions, then name -> values. [m, ohm m]
    traverse_soils : dict
        Traverse -> soil fitted to it alone; empty when there is one traverse or one is too short.
    advice : tuple of str
        Which further spacings would tell most.
    segment_factors : dict
        Segment -> factor that was taken out of its readings; empty when none was.
    """

    soil: LayeredSoil
    chosen: str
    reason: str
    readings: tuple[ApparentReading, ...] = ()
    candidates: tuple[SoilCandidate, ...] = ()
    noise: float | None = None
    noise_source: str = ""
    longest_spacing_m: float | None = None
    warnings: tuple[str, ...] = ()
    curve_positions_m: tuple[float, ...] = ()
    curves_ohm_m: dict[str, tuple[float, ...]] = field(default_factory=dict)
    traverse_soils: dict[str, LayeredSoil] = field(default_factory=dict)
    advice: tuple[str, ...] = ()
    spread: SoilSpread | None = None
    segment_factors: dict[str, float] = field(default_factory=dict)
