"""Names of formula parameters in words, with their units: ``surface_resistivity_ohm_m`` -> surface
resistivity, Ω·m."""

from __future__ import annotations

__all__ = ["describe_parameter"]

_SUFFIXES = (
    ("_j_per_cm3_k", "J/(cm³·K)"),
    ("_j_per_k_mm3", "J/(K·mm³)"),
    ("_mm2_per_ka", "mm²/kA"),
    ("_as_per_mm2", "A·√s/mm²"),
    ("_uohm_cm", "µΩ·cm"),
    ("_ohm_mm", "Ω·mm"),
    ("_ohm_m", "Ω·m"),
    ("_per_k", "1/K"),
    ("_ohm", "Ω"),
    ("_mm2", "mm²"),
    ("_m2", "m²"),
    ("_mm", "mm"),
    ("_hz", "Hz"),
    ("_as", "A·√s"),
    ("_kg", "kg"),
    ("_m", "m"),
    ("_a", "A"),
    ("_v", "V"),
    ("_s", "s"),
    ("_c", "°C"),
)

_WORDS = {
    "k0": "reciprocal of the temperature coefficient at 0 °C, less 0 °C",
    "x over r": "ratio X/R",
    "beta": "reciprocal of the temperature coefficient at 0 °C",
    "z1": "positive-sequence impedance",
    "z2": "negative-sequence impedance",
    "z0": "zero-sequence impedance",
    "max x": "largest extent along x",
    "max y": "largest extent along y",
    "max distance": "largest distance between two points of the mat",
    "kh": "weight of the depth",
    "kii": "weight of the inner conductors",
    "kf": "constant of the metal",
    "k1": "coefficient for length over width and depth",
    "k2": "coefficient for length over width and depth",
    "na": "shape term",
    "nb": "shape term",
    "nc": "shape term",
    "nd": "shape term",
    "mutual": "mutual resistance of conductors and rods",
    "grid": "resistance of the horizontal conductors",
    "rods": "resistance of the rods",
    "max temperature": "final temperature",
    "heat capacity": "heat capacity of unit volume",
    "n": "effective number of parallel conductors",
    "rods on perimeter": "rods in the corners or on the perimeter",
    "dc time constant": "time constant of the direct-current offset",
}


def describe_parameter(name: str) -> tuple[str, str]:
    """Words and unit of a parameter's name; the unit is empty for a pure number."""
    for suffix, unit in _SUFFIXES:
        if name.endswith(suffix) and len(name) > len(suffix):
            words = name.removesuffix(suffix).replace("_", " ")
            return _WORDS.get(words, words), unit
    words = name.replace("_", " ")
    return _WORDS.get(words, words), ""
