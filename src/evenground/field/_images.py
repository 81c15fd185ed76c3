"""Real images: the spectral kernel of each pair of layers as a sum of point sources on one vertical line.

Every bounded spectrum F(lambda) is split into its limit for large lambda, which is an exact image, and a
smooth remainder that is fitted by ``sum of c_j exp(-lambda*b_j)`` with b_j on a geometric ladder. The fit
is linear least squares in the c_j, so it has no local minima; each term is a real image whose distance
is longer by b_j. (Complex images of Chow, Yang and Srivastava, J. Appl. Phys. 71 (1992) 569, use free
complex exponents instead.)
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from evenground.errors import NotConvergedError
from evenground.field._spectrum import Reflections, Term, pair_terms
from evenground.model.soil import LayeredSoil

__all__ = ["ImageSet", "fit_images", "point_potential"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

TOLERANCE = 2e-5
"""Fit error aimed at, relative to the surface kernel at the same wave number."""
REFUSED = 5e-4
RATIOS = (2.0, 1.75, 1.6, 1.5, 1.4, 1.32, 1.25)
NEGLIGIBLE = 1e-9


@dataclass(frozen=True)
class ImageSet:
    """Images of every (source layer, observer layer) pair, and of (source layer, surface).

    Image m of a source at depth d lies at depth ``flip[m]*d + shift[m]`` and has the strength
    ``coefficient[m]`` volts times metres per ampere. Pair (s, o) owns the slice
    ``first[s, o] : first[s, o] + count[s, o]``; column ``layers`` is the surface.

    Attributes
    ----------
    error : float
        Largest deviation of the fit from fresh spectral samples, relative.
    terms : int
        Images of the longest slice.
    """

    first: IntArray
    count: IntArray
    coefficient: FloatArray
    flip: FloatArray
    shift: FloatArray
    error: float
    terms: int
    layers: int

    def of_pair(self, s: int, o: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Coefficients, flips and shifts of one pair."""
        part = slice(int(self.first[s, o]), int(self.first[s, o] + self.count[s, o]))
        return self.coefficient[part], self.flip[part], self.shift[part]


def fit_images(soil: LayeredSoil, tolerance: float = TOLERANCE) -> ImageSet:
    """Fit the images of a soil; results are kept for the soils used last.

    Raises
    ------
    NotConvergedError
        When the fit stays worse than is tolerable even with the finest ladder.
    """
    return _fit(soil, tolerance)


@lru_cache(maxsize=64)
def _fit(soil: LayeredSoil, tolerance: float) -> ImageSet:
    merged = _merge_equal_layers(soil)
    best: tuple[float, dict[tuple[int, int], Images]] | None = None
    for ratio in RATIOS:
        found = _fit_with(merged, ratio)
        if best is None or found[0] < best[0]:
            best = found
        if best[0] <= tolerance:
            break
    assert best is not None
    error, pairs = best
    if error > max(REFUSED, tolerance):
        raise NotConvergedError(
            f"layered-earth kernel: the best fit by real images deviates by {error:.1e} "
            f"(allowed {REFUSED:.0e}) for {soil.describe()}"
        )
    return _pack(merged, _layer_of(soil, merged), pairs, error)


def _merge_equal_layers(soil: LayeredSoil) -> LayeredSoil:
    """Neighbouring layers of one resistivity are one layer."""
    rho, h = [soil.resistivities_ohm_m[0]], []
    depth = 0.0
    top = 0.0
    for value, bottom in zip(soil.resistivities_ohm_m[1:], soil.interface_depths_m, strict=True):
        depth = bottom
        if value != rho[-1]:
            h.append(depth - top)
            rho.append(value)
            top = depth
    return LayeredSoil(tuple(rho), tuple(h))


def _layer_of(soil: LayeredSoil, merged: LayeredSoil) -> list[int]:
    index, found = 0, [0]
    for value in soil.resistivities_ohm_m[1:]:
        if value != merged.resistivities_ohm_m[index]:
            index += 1
        found.append(index)
    return found


def _ladder(soil: LayeredSoil, ratio: float) -> FloatArray:
    """Extra path lengths b_j: from below the thinnest layer to far beyond the deepest influence. [m]"""
    thin, deep = min(soil.thicknesses_m), sum(soil.thicknesses_m)
    contrast = max(soil.resistivities_ohm_m) / min(soil.resistivities_ohm_m)
    longest = 40.0 * deep * contrast**0.8
    n = int(np.ceil(np.log(longest / thin) / np.log(ratio))) + 1
    return np.asarray(thin * ratio ** np.arange(n))


def _sample_sets(ladder: FloatArray) -> list[FloatArray]:
    """Wave numbers for the limit, for the fit, and fresh ones between those for the error. [1/m]"""
    low, high = 1e-3 / ladder[-1], 40.0 / ladder[0]
    sets = [np.array([1e6 / ladder[0]])]
    for per_term, phase in ((10, 0.0), (37, 0.5)):
        n = per_term * len(ladder)
        step = np.log(high / low) / n
        sets.append(low * np.exp(step * (np.arange(n) + phase)))
    return sets


def _reference(waves: Reflections, s: int) -> FloatArray:
    """Size of the kernel that a deviation is compared with: the surface kernel in units of rho_s.

    At wave numbers beyond the layering it never exceeds the primary field's one.
    """
    soil = waves.soil
    q = waves.apparent() / soil.resistivities_ohm_m[s]
    far = 1.0 / (1.0 + (3.0 * waves.lam * sum(soil.thicknesses_m)) ** 2)
    return np.asarray(np.minimum(q, 1.0) + np.maximum(q - 1.0, 0.0) * far)


Images = list[tuple[float, int, float]]
Fits = dict[tuple[int, str], tuple[FloatArray, FloatArray]]


def _fit_with(soil: LayeredSoil, ratio: float) -> tuple[float, dict[tuple[int, int], Images]]:
    """Every pair of layers with one ladder; returns the largest relative error and the images."""
    if soil.layers == 1:
        terms = pair_terms(soil, 0, 0)
        factor = soil.resistivities_ohm_m[0] / (4.0 * np.pi)
        return 0.0, {(0, 0): [i for t in terms for i in _term_images(t, np.full(1, factor), np.zeros(1))]}
    ladder = _ladder(soil, ratio)
    waves = [Reflections(lam, soil) for lam in _sample_sets(ladder)]
    worst, pairs = 0.0, {}
    for s in range(soil.layers):
        error, fits = _fit_source(soil, s, ladder, waves)
        worst = max(worst, error)
        factor = soil.resistivities_ohm_m[s] / (4.0 * np.pi)
        for o in range(s, soil.layers):
            images: Images = []
            for term in pair_terms(soil, s, o):
                coefficients, lengths = fits[o, term.kind]
                images += _term_images(term, coefficients * factor, lengths)
            pairs[s, o] = images
            pairs[o, s] = [(c, f, -f * x) for c, f, x in images] if o > s else images
    return worst, pairs


def _fit_source(
    soil: LayeredSoil, s: int, ladder: FloatArray, waves: list[Reflections]
) -> tuple[float, Fits]:
    """All spectra of one source layer in one least-squares solve, and the error on fresh samples."""
    limit_waves, fit_waves, fresh_waves = waves
    keys = sorted({(o, t.kind) for o in range(s, soil.layers) for t in pair_terms(soil, s, o)} - {(s, "one")})

    def spectra(at: Reflections) -> FloatArray:
        return np.column_stack([at.amplitude(kind, s, o) for o, kind in keys])

    limits = spectra(limit_waves)[0]
    weight = 1.0 / _reference(fit_waves, s)[:, None]
    matrix = np.exp(-np.outer(fit_waves.lam, ladder)) * weight
    solved = np.linalg.lstsq(matrix, (spectra(fit_waves) - limits) * weight, rcond=1e-13)[0]
    solved[np.abs(solved) < NEGLIGIBLE] = 0.0
    model = limits + np.exp(-np.outer(fresh_waves.lam, ladder)) @ solved
    error = np.max(np.abs(model - spectra(fresh_waves)) / _reference(fresh_waves, s)[:, None])
    fits: Fits = {(s, "one"): (np.ones(1), np.zeros(1))}
    for column, key in enumerate(keys):
        keep = solved[:, column] != 0.0
        fits[key] = (np.append(limits[column], solved[keep, column]), np.append(0.0, ladder[keep]))
    return float(error), fits


def _term_images(term: Term, coefficients: FloatArray, lengths: FloatArray) -> Images:
    """Images of one exponential term: |sz*z + sd*d + offset + b| is the height over the observer."""
    flip = -term.sign_z * term.sign_d
    return [
        (float(c), flip, float(-term.sign_z * (term.offset_m + b)))
        for c, b in zip(coefficients, lengths, strict=True)
        if c != 0.0
    ]


def _at_surface(images: Images) -> Images:
    """The images of an observer at z = 0: those mirrored in the surface fall together."""
    merged: dict[int, tuple[float, int, float]] = {}
    for c, f, x in images:
        shift = f * x
        key = round(shift * 1e9)
        merged[key] = (merged.get(key, (0.0, 1, shift))[0] + c, 1, shift)
    return list(merged.values())


def _pack(
    soil: LayeredSoil, layer_of: list[int], pairs: dict[tuple[int, int], Images], error: float
) -> ImageSet:
    n = len(layer_of)
    first = np.zeros((n, n + 1), dtype=np.int64)
    count = np.zeros((n, n + 1), dtype=np.int64)
    flat: Images = []

    def slices() -> Iterator[tuple[int, int, Images]]:
        for s in range(n):
            for o in range(n):
                yield s, o, pairs[layer_of[s], layer_of[o]]
            yield s, n, _at_surface(pairs[layer_of[s], 0])

    for s, o, images in slices():
        first[s, o], count[s, o] = len(flat), len(images)
        flat += images
    table = np.array(flat, dtype=float).T
    return ImageSet(
        first=first,
        count=count,
        coefficient=np.ascontiguousarray(table[0]),
        flip=np.ascontiguousarray(table[1]),
        shift=np.ascontiguousarray(table[2]),
        error=error if soil.layers > 1 else 0.0,
        terms=int(count.max()),
        layers=n,
    )


def point_potential(
    soil: LayeredSoil, source_depth_m: float, depth_m: float, distance_m: float, tolerance: float = TOLERANCE
) -> float:
    """Potential of a buried point source of one ampere by the fitted images. [V/A]"""
    images = fit_images(soil, tolerance)
    c, f, x = images.of_pair(soil.layer_at(source_depth_m), soil.layer_at(depth_m))
    height = depth_m - f * source_depth_m - x
    return float(np.sum(c / np.hypot(distance_m, height)))
