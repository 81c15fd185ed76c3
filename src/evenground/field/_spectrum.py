"""Spectral kernel of a horizontally layered earth.

The potential of a point source of one ampere in layer s at depth d, seen in layer o at depth z and
horizontal distance r, is ``rho_s/(4 pi) * integral of phi(lambda) J0(lambda r)``. Here phi is written as
a short sum of ``F(lambda) * exp(-lambda*(sz*z + sd*d + offset))`` with bounded F: at most six terms for
each pair of layers. Reflections seen from inside a layer follow the upward and downward recursion over
the layers (Sunde 1949, chapter 2; Koefoed 1979); only decaying exponentials occur, so nothing overflows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenground.model.soil import LayeredSoil

__all__ = ["Reflections", "Term", "pair_terms", "total_kernel"]

FloatArray = NDArray[np.float64]


class Reflections:
    """Reflection seen from inside each layer at given wave numbers.

    Attributes
    ----------
    lam : (n,)
        Wave numbers. [1/m]
    down, up : list of (n,)
        Reflection at the layer's bottom, looking down, and at its top, looking up.
    echo : list of (n,)
        exp(-2 lambda h) of each layer; zero for the last one, which has no bottom.
    """

    def __init__(self, lam: FloatArray, soil: LayeredSoil) -> None:
        rho, n = soil.resistivities_ohm_m, soil.layers
        self.lam, self.soil = lam, soil
        self.echo = [np.exp(-2.0 * lam * h) for h in soil.thicknesses_m] + [np.zeros_like(lam)]
        self.down = [np.zeros_like(lam) for _ in range(n)]
        self.up = [np.ones_like(lam) for _ in range(n)]
        for i in range(n - 2, -1, -1):
            k = (rho[i + 1] - rho[i]) / (rho[i + 1] + rho[i])
            q = self.down[i + 1] * self.echo[i + 1]
            self.down[i] = (k + q) / (1.0 + k * q)
        for i in range(1, n):
            k = (rho[i - 1] - rho[i]) / (rho[i - 1] + rho[i])
            q = self.up[i - 1] * self.echo[i - 1]
            self.up[i] = (k + q) / (1.0 + k * q)

    def apparent(self) -> FloatArray:
        """Resistivity transform at the surface: the last layer's at 0, the first's at infinity. [ohm m]"""
        q = self.down[0] * self.echo[0]
        return np.asarray(self.soil.resistivities_ohm_m[0] * (1.0 + q) / (1.0 - q))

    def amplitude(self, kind: str, s: int, o: int) -> FloatArray:
        """Bounded amplitude of one kind of term for source layer s and observer layer o >= s."""
        if kind == "one":
            return np.ones_like(self.lam)
        value = 1.0 / (1.0 - self.up[s] * self.down[s] * self.echo[s])
        for i in range(s, o):
            value = value * (1.0 + self.down[i]) / (1.0 + self.down[i + 1] * self.echo[i + 1])
        if kind in ("top", "both"):
            value = value * self.up[s]
        if kind in ("bottom", "both"):
            value = value * self.down[o]
        return np.asarray(value)


@dataclass(frozen=True)
class Term:
    """``amplitude(kind) * exp(-lambda*(sign_z*z + sign_d*d + offset_m))``.

    Kinds: ``one`` (constant), ``through`` (arrives without a reflection at the ends of the path), ``top``
    (turned above the source first), ``bottom`` (turned below the observer), ``both``.
    """

    kind: str
    sign_z: int
    sign_d: int
    offset_m: float


def pair_terms(soil: LayeredSoil, s: int, o: int) -> list[Term]:
    """The exponential terms for a source in layer s and an observer in layer o >= s.

    In the top layer the surface reflects fully, so kinds fall together and share one fit.
    """
    edges = (0.0, *soil.interface_depths_m, np.inf)
    top, bottom = edges[s], edges[o + 1]
    first = s == 0
    if s == o:
        terms = [Term("one", 1, -1, 0.0)]
        terms.append(Term("one" if first else "top", 1, 1, -2.0 * top))
    else:
        terms = [Term("through", 1, -1, 0.0)]
        terms.append(Term("through" if first else "top", 1, 1, -2.0 * top))
    if o == soil.layers - 1:
        return terms
    terms.append(Term("both" if first else "bottom", -1, -1, 2.0 * bottom))
    terms.append(Term("both", -1, 1, 2.0 * (bottom - top)))
    if s == o:
        terms.append(Term("both", 1, -1, 2.0 * (bottom - top)))
        if first:
            terms.append(Term("both", 1, 1, 2.0 * bottom))
    return terms


def total_kernel(
    waves: Reflections, source_depth_m: float, depth_m: float, layers: tuple[int, int]
) -> FloatArray:
    """phi(lambda) for one pair of depths; ``layers`` are those of source and observer, source above."""
    total = np.zeros_like(waves.lam)
    for term in pair_terms(waves.soil, *layers):
        path = abs(term.sign_z * depth_m + term.sign_d * source_depth_m + term.offset_m)
        total += waves.amplitude(term.kind, *layers) * np.exp(-waves.lam * path)
    return total
