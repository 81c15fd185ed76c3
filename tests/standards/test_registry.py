"""Every declared equation: the printed form is what the code computes, and it says where it comes from."""

from __future__ import annotations

import inspect
import math
import random
from collections.abc import Callable, Mapping
from typing import Any

import pytest

from evenground.errors import OutOfRangeError
from evenground.provenance import NAMESPACE, EquationInfo, equation, equations, info, outside_range
from evenground.standards import load_all

load_all()
ALL = {name: f for name, f in sorted(equations().items()) if name.startswith("evenground.standards.")}
WITH_FORM = {name: f for name, f in ALL.items() if info(f).form}
SAMPLES = 25
# Where the usual sizes break a rule of the equation, or bring the printed form into its own rounding.
SPECIAL = {
    "half_oblate_spheroid_resistance": {"radius_m": (2.0, 20.0)},
    "foot_mutual_resistance": {"distance_m": (0.05, 5.0), "radius_m": (0.05, 0.1)},
}


def sample(rng: random.Random, name: str, annotation: str) -> Any:
    """An admissible value by the parameter's name and type; sizes as they occur on a site."""
    if annotation == "bool":
        return rng.random() < 0.5
    if annotation == "int":
        return rng.randint(2, 24)
    if annotation == "complex":
        return complex(rng.uniform(0.05, 10.0), rng.uniform(0.1, 40.0))
    ranges = {
        "time_s": (0.03, 3.0),
        "surface_resistivity_ohm_m": (1000.0, 10000.0),
        "resistivity_ohm_m": (10.0, 1000.0),
        "resistivity_uohm_cm": (1.5, 80.0),
        "max_temperature_c": (200.0, 1500.0),
        "initial_temperature_c": (0.0, 60.0),
        "k0_c": (200.0, 800.0),
        "beta_c": (200.0, 240.0),
        "area_m2": (100.0, 20000.0),
        "perimeter_m": (40.0, 600.0),
        "half_length_m": (5.0, 60.0),
        "arm_length_m": (5.0, 60.0),
        "rod_length_m": (1.5, 12.0),
        "conductor_length_m": (100.0, 5000.0),
        "total_length_m": (100.0, 5000.0),
        "effective_length_m": (100.0, 5000.0),
        "length_m": (2.0, 60.0),
        "ring_diameter_m": (2.0, 60.0),
        "wire_diameter_m": (0.004, 0.05),
        "diameter_m": (0.004, 0.05),
        "radius_m": (0.002, 0.05),
        "thickness_m": (0.001, 0.15),
        "width_m": (0.01, 0.1),
        "depth_m": (0.3, 1.5),
        "spacing_m": (1.0, 20.0),
        "max_x_m": (10.0, 200.0),
        "max_y_m": (10.0, 200.0),
        "distance_m": (1.0, 200.0),
        "frequency_hz": (16.7, 60.0),
        "x_over_r": (0.5, 60.0),
        "current_a": (50.0, 60000.0),
        "voltage_v": (400.0, 400e3),
        "growth_factor": (1.0, 1.5),
        "split_factor": (0.05, 1.0),
        "decrement_factor": (1.0, 1.7),
        "fault_resistance_ohm": (0.0, 5.0),
        "temperature_coefficient_per_k": (0.001, 0.005),
        "n": (2.0, 25.0),
    }
    for ending, (low, high) in ranges.items():
        if name == ending or name.endswith(f"_{ending}"):
            return rng.uniform(low, high)
    return rng.uniform(0.1, 3.0)


def evaluate(details: EquationInfo, arguments: Mapping[str, Any]) -> Any:
    scope = {symbol: arguments[parameter] for symbol, parameter in details.symbols.items()}
    return eval(details.form, {"__builtins__": {}}, {**NAMESPACE, **scope})


def disagreement(function: Callable[..., Any], seed: str) -> float:
    """Largest relative difference between form and function over the admissible samples."""
    rng = random.Random(seed)
    details = info(function)
    parameters = inspect.signature(inspect.unwrap(function)).parameters
    worst, accepted = 0.0, 0
    for _ in range(4000):
        arguments = {n: sample(rng, n, str(p.annotation)) for n, p in parameters.items()}
        for special, bounds in SPECIAL.get(function.__name__, {}).items():
            arguments[special] = rng.uniform(*bounds)
        if outside_range(function, **arguments):
            continue
        try:
            value = function(**arguments)
        except OutOfRangeError:
            continue
        printed = evaluate(details, arguments)
        worst = max(worst, abs(printed - value) / max(abs(value), 1e-300))
        accepted += 1
        if accepted == SAMPLES:
            return worst
    raise AssertionError(f"only {accepted} admissible samples")


def test_the_registry_is_not_empty() -> None:
    assert len(WITH_FORM) > 60


@pytest.mark.parametrize("name", list(WITH_FORM))
def test_form_and_function_agree(name: str) -> None:
    # 1e-12: the same arithmetic in another order; differences of nearly equal terms stay far above rounding.
    assert disagreement(WITH_FORM[name], name) < 1e-12


@pytest.mark.parametrize("name", list(ALL))
def test_every_equation_names_its_source(name: str) -> None:
    details = info(ALL[name])
    assert len(details.source) > 8
    assert details.form or details.text
    assert details.evidence in ("", "found", "from memory", "from memory, cross-checked")
    assert inspect.getdoc(ALL[name])


def test_a_wrong_form_is_caught() -> None:
    def area(width_m: float, length_m: float) -> float:
        return width_m * length_m

    declare = {"source": "geometry of rectangles", "symbols": "w l"}
    right = equation("A", "m2", form="w*l", **declare)(area)
    wrong = equation("A", "m2", form="w*l*1.000001", **declare)(area)
    assert disagreement(right, "right") < 1e-12
    assert disagreement(wrong, "wrong") > 1e-7


def test_a_form_that_breaks_down_is_not_passed_over() -> None:
    def root(length_m: float) -> float:
        return math.sqrt(length_m)

    broken = equation("x", "", form="sqrt(-l)", source="geometry of squares", symbols="l")(root)
    with pytest.raises(ValueError, match="math domain error"):
        disagreement(broken, "broken")


@pytest.mark.parametrize("name", list(ALL))
def test_bad_numbers_are_refused_not_swallowed(name: str) -> None:
    """A nan in any float parameter never comes out as an ordinary number."""
    function = ALL[name]
    rng = random.Random(name)
    parameters = inspect.signature(inspect.unwrap(function)).parameters
    for bad in (n for n, p in parameters.items() if str(p.annotation) == "float"):
        arguments = {n: sample(rng, n, str(p.annotation)) for n, p in parameters.items()}
        arguments[bad] = math.nan
        try:
            value = function(**arguments)
        except OutOfRangeError:
            continue
        assert value != value, f"{bad} = nan gave {value!r}"
