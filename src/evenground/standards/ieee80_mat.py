"""IEEE Std 80: all hand formulas for one mat, each with the reason when it does not apply."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from evenground.errors import OutOfRangeError
from evenground.provenance import info, outside_range
from evenground.standards import ieee80

__all__ = ["MatGeometry", "MatResistances", "MatVoltages", "mat_resistances", "mesh_and_step_voltage"]


@dataclass(frozen=True, slots=True)
class MatGeometry:
    """What the hand formulas know of a mat.

    Attributes
    ----------
    area_m2, perimeter_m : float
        Of the outline. [m2, m]
    max_x_m, max_y_m : float
        Greatest extent along x and along y. [m]
    max_distance_m : float
        Greatest distance between any two points of the mat. [m]
    conductor_length_m : float
        All horizontal conductors together. [m]
    spacing_m : float
        Distance between parallel conductors; the larger one when they differ. [m]
    depth_m, diameter_m : float
        Of the horizontal conductors. [m]
    rod_count, rod_length_m, total_rod_length_m : int, float, float
        Number of rods, length of one, of all. [-, m, m]
    rod_diameter_m : float
        Needed by Schwarz's formula only; 0 when not known. [m]
    rods_on_perimeter : bool
        Rods stand in the corners, along the perimeter, or there and throughout.
    """

    area_m2: float
    perimeter_m: float
    max_x_m: float
    max_y_m: float
    max_distance_m: float
    conductor_length_m: float
    spacing_m: float
    depth_m: float
    diameter_m: float
    rod_count: int = 0
    rod_length_m: float = 0.0
    total_rod_length_m: float = 0.0
    rod_diameter_m: float = 0.0
    rods_on_perimeter: bool = False

    @property
    def total_length_m(self) -> float:
        """Horizontal conductors and rods. [m]"""
        return self.conductor_length_m + self.total_rod_length_m


@dataclass(frozen=True, slots=True)
class MatResistances:
    """Resistance by formula name; None where the formula does not apply, then ``reasons`` says why. [ohm]"""

    values_ohm: Mapping[str, float | None]
    reasons: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class MatVoltages:
    """Mesh and step voltage of one mat for one current. [V]

    ``factors`` holds n, K_m, K_s, ... that could be evaluated, by symbol; ``reasons`` says, under
    ``"mesh"`` and ``"step"``, why a voltage is None.
    """

    mesh_v: float | None
    step_v: float | None
    factors: Mapping[str, float]
    reasons: Mapping[str, str] = field(default_factory=dict)


def _limits_broken(function: Callable[..., float], *arguments: Any) -> str:
    rules = outside_range(function, *arguments)
    if not rules:
        return ""
    details = info(function)
    named = dict(zip(details.symbols, arguments, strict=True))
    used = ", ".join(f"{s} = {v:.4g}" for s, v in named.items() if any(s in rule for rule in rules))
    return f"{details.source} needs {' and '.join(rules)}; here {used}"


def _schwarz(mat: MatGeometry, resistivity_ohm_m: float) -> float:
    ratio = max(mat.max_x_m, mat.max_y_m) / min(mat.max_x_m, mat.max_y_m)
    for function in (ieee80.schwarz_k1, ieee80.schwarz_k2):
        reason = _limits_broken(function, ratio, mat.depth_m, mat.area_m2)
        if reason:
            raise OutOfRangeError(reason)
    k1 = ieee80.schwarz_k1(ratio, mat.depth_m, mat.area_m2)
    k2 = ieee80.schwarz_k2(ratio, mat.depth_m, mat.area_m2)
    rho, length = resistivity_ohm_m, mat.conductor_length_m
    grid = ieee80.schwarz_grid(rho, length, mat.diameter_m / 2.0, mat.depth_m, mat.area_m2, k1, k2)
    if mat.rod_count == 0:
        return grid
    if mat.rod_diameter_m <= 0.0:
        raise OutOfRangeError("Schwarz's formula needs the diameter of the rods")
    rods = ieee80.schwarz_rods(
        rho, mat.rod_count, mat.rod_length_m, mat.rod_diameter_m / 2.0, mat.area_m2, k1
    )
    mutual = ieee80.schwarz_mutual(rho, length, mat.rod_length_m, mat.area_m2, k1, k2)
    return ieee80.schwarz_combined(grid, rods, mutual)


def _sverak(mat: MatGeometry, resistivity_ohm_m: float) -> float:
    inputs = (resistivity_ohm_m, mat.area_m2, mat.total_length_m, mat.depth_m)
    reason = _limits_broken(ieee80.mat_resistance_sverak, *inputs)
    if reason:
        raise OutOfRangeError(reason)
    return ieee80.mat_resistance_sverak(*inputs)


def mat_resistances(geometry: MatGeometry, resistivity_ohm_m: float) -> MatResistances:
    """Resistance of the mat in uniform soil by every hand formula of the guide. [ohm]

    Keys: ``"disc, lower bound"``, ``"Laurent-Niemann"``, ``"Sverak"``, ``"Schwarz"``.

    Raises
    ------
    OutOfRangeError
        When the resistivity itself is not a finite number above zero.
    """
    if not (math.isfinite(resistivity_ohm_m) and resistivity_ohm_m > 0.0):
        raise OutOfRangeError(
            f"resistivity_ohm_m must be a finite number above zero, got {resistivity_ohm_m!r}"
        )
    area, total = geometry.area_m2, geometry.total_length_m
    attempts: dict[str, Callable[[], float]] = {
        "disc, lower bound": lambda: ieee80.mat_resistance_disc(resistivity_ohm_m, area),
        "Laurent-Niemann": lambda: ieee80.mat_resistance_laurent(resistivity_ohm_m, area, total),
        "Sverak": lambda: _sverak(geometry, resistivity_ohm_m),
        "Schwarz": lambda: _schwarz(geometry, resistivity_ohm_m),
    }
    values: dict[str, float | None] = {}
    reasons: dict[str, str] = {}
    for name, attempt in attempts.items():
        try:
            values[name] = attempt()
        except OutOfRangeError as error:
            values[name], reasons[name] = None, str(error)
    return MatResistances(values, reasons)


def _parallel_conductors(mat: MatGeometry, factors: dict[str, float]) -> float:
    factors["n_a"] = ieee80.shape_na(mat.conductor_length_m, mat.perimeter_m)
    factors["n_b"] = ieee80.shape_nb(mat.perimeter_m, mat.area_m2)
    factors["n_c"] = ieee80.shape_nc(mat.max_x_m, mat.max_y_m, mat.area_m2)
    factors["n_d"] = ieee80.shape_nd(mat.max_distance_m, mat.max_x_m, mat.max_y_m)
    factors["n"] = ieee80.effective_parallel_conductors(
        factors["n_a"], factors["n_b"], factors["n_c"], factors["n_d"]
    )
    return factors["n"]


def _mesh_length(mat: MatGeometry) -> float:
    if mat.rods_on_perimeter and mat.rod_count > 0:
        return ieee80.effective_length_mesh_rods(
            mat.conductor_length_m, mat.total_rod_length_m, mat.rod_length_m, mat.max_x_m, mat.max_y_m
        )
    return ieee80.effective_length_mesh(mat.conductor_length_m, mat.total_rod_length_m)


def _mesh(mat: MatGeometry, rho: float, current_a: float, factors: dict[str, float]) -> float:
    n = factors["n"]
    factors["K_ii"] = ieee80.mesh_factor_rods(n, mat.rods_on_perimeter and mat.rod_count > 0)
    factors["K_h"] = ieee80.mesh_factor_depth(mat.depth_m)
    inputs = (mat.spacing_m, mat.depth_m, mat.diameter_m, n, factors["K_ii"], factors["K_h"])
    reason = _limits_broken(ieee80.mesh_factor, *inputs)
    if reason:
        raise OutOfRangeError(reason)
    factors["K_m"] = ieee80.mesh_factor(*inputs)
    factors["K_i"] = ieee80.irregularity_factor(n)
    factors["L_M"] = _mesh_length(mat)
    return ieee80.mesh_voltage(rho, current_a, factors["K_m"], factors["K_i"], factors["L_M"])


def _step(mat: MatGeometry, rho: float, current_a: float, factors: dict[str, float]) -> float:
    inputs = (mat.spacing_m, mat.depth_m, factors["n"])
    reason = _limits_broken(ieee80.step_factor, *inputs)
    if reason:
        raise OutOfRangeError(reason)
    factors["K_s"] = ieee80.step_factor(*inputs)
    if "K_i" not in factors:
        factors["K_i"] = ieee80.irregularity_factor(factors["n"])
    factors["L_S"] = ieee80.effective_length_step(mat.conductor_length_m, mat.total_rod_length_m)
    return ieee80.step_voltage(rho, current_a, factors["K_s"], factors["K_i"], factors["L_S"])


def mesh_and_step_voltage(
    geometry: MatGeometry, resistivity_ohm_m: float, grid_current_a: float
) -> MatVoltages:
    """Mesh and step voltage of the mat in uniform soil; None with a reason outside the range. [V]"""
    factors: dict[str, float] = {}
    reasons: dict[str, str] = {}
    voltages: dict[str, float | None] = {"mesh": None, "step": None}
    try:
        _parallel_conductors(geometry, factors)
    except OutOfRangeError as error:
        reasons = dict.fromkeys(voltages, str(error))
        return MatVoltages(None, None, factors, reasons)
    for name, formula in (("mesh", _mesh), ("step", _step)):
        try:
            voltages[name] = formula(geometry, resistivity_ohm_m, grid_current_a, factors)
        except OutOfRangeError as error:
            reasons[name] = str(error)
    return MatVoltages(voltages["mesh"], voltages["step"], factors, reasons)
