"""Finite elements on a graded box for electrodes of straight bars, as an oracle for the field solver.

The half-space is a box with grid lines that crowd at every bar and spread geometrically to a hundred
kilometres, where the potential is set to zero; what that cuts off is about ``resistivity/(2 pi distance)``,
one part in ten thousand of the resistance at most. Bars have their true (square) section, are cut out of
the soil by fixing all unknowns on them to one volt, and may cross layer interfaces, which are grid lines.
Two planes of symmetry are used. The element is the tensor product of one-dimensional elements of
scikit-fem, so the stiffness matrix is a sum of three Kronecker products: it is inverted exactly by the
eigenvectors of each direction (R. E. Lynch, J. R. Rice and D. H. Thomas, Numer. Math. 6, 1964), and the
currents on the bars follow from conjugate gradients on the bars' unknowns alone. Nothing is shared with the
solver: neither images nor thin wires, point sources or the reflection recursion.

The energy of any trial potential exceeds the true one (Dirichlet's principle): the resistance found
lies below the true one and rises with refinement, while the solver's lies above.
"""

import itertools
from dataclasses import dataclass

import numpy as np
import skfem
from scipy.linalg import eigh
from skfem.helpers import dot, grad

EQUIVALENT_RADIUS = 0.5902
"""Radius of the round wire of equal capacity, in sides of a square (Polya and Szego 1951)."""


@dataclass(frozen=True)
class Bar:
    """A bar between two opposite corners of a box. [m]"""

    low: tuple[float, float, float]
    high: tuple[float, float, float]


def graded_lines(stops, smallest, growth, far):
    """Grid lines through all stops, with cells of size ``smallest`` there, growing up to ``far``."""
    lines = [stops[0]]
    for a, b in itertools.pairwise([*stops, far]):
        half = (b - a) if b == far else 0.5 * (b - a)
        sizes = [min(smallest, half)]
        while sum(sizes) < half * (1 - 1e-9):
            sizes.append(sizes[-1] * growth)
        up = np.cumsum(sizes) * half / sum(sizes)
        lines += [*(a + up)] if b == far else [*(a + up), *(b - up[-2::-1]), b]
    return np.array(lines)


def grid_lines(soil, bars, smallest, growth, far):
    """Grid lines of all three directions: every face of a bar and every interface lies on one."""
    stops = [sorted({0.0, *(b.low[k] for b in bars), *(b.high[k] for b in bars)}) for k in range(3)]
    stops[2] = sorted({*stops[2], *soil.interface_depths_m})
    return [graded_lines(s, smallest, growth, far) for s in stops]


class Direction:
    """One-dimensional elements along one axis: eigenvectors of stiffness against mass."""

    def __init__(self, lines, order, weight=None):
        element = {1: skfem.ElementLineP1(), 2: skfem.ElementLineP2()}[order]
        self.basis = skfem.Basis(skfem.MeshLine(lines), element)
        self.place = self.basis.doflocs[0]
        of = np.ones_like if weight is None else weight

        @skfem.BilinearForm
        def stiffness(u, v, w):
            return of(w.x[0]) * dot(grad(u), grad(v))

        @skfem.BilinearForm
        def mass(u, v, w):
            return of(w.x[0]) * u * v

        free = self.place < lines[-1] * (1 - 1e-12)  # zero potential at the far end
        matrices = [form.assemble(self.basis).toarray()[np.ix_(free, free)] for form in (stiffness, mass)]
        self.free = free
        self.value, vector = eigh(*matrices)
        self.vector = np.zeros((len(free), len(self.value)))
        self.vector[free] = vector

    def within(self, low, high):
        """Unknowns on the closed stretch."""
        return np.flatnonzero((self.place > low - 1e-9) & (self.place < high + 1e-9))

    def at(self, points):
        """Values of the eigenvectors at points, (points, modes)."""
        return self.basis.probes(np.atleast_2d(points)) @ self.vector


class Block:
    """A quarter of the half-space, symmetric about x = 0 and y = 0, with bars at one volt."""

    def __init__(self, soil, bars, *, smallest, growth, far=1e5, order=2):
        edges = np.array(soil.interface_depths_m)
        conductivity = 1.0 / np.array(soil.resistivities_ohm_m)
        lines = grid_lines(soil, bars, smallest, growth, far)
        self.axes = [Direction(lines[0], order), Direction(lines[1], order)]
        self.axes.append(Direction(lines[2], order, lambda z: conductivity[np.searchsorted(edges, z)]))
        a, b, c = (axis.value for axis in self.axes)
        self.inverse = 1.0 / (a[:, None, None] + b[:, None] + c)
        self.shape = tuple(len(axis.place) for axis in self.axes)
        mask = np.zeros(self.shape, dtype=bool)
        for bar in bars:
            mask[
                np.ix_(*(x.within(lo, hi) for x, lo, hi in zip(self.axes, bar.low, bar.high, strict=True)))
            ] = 1
        self.mask = mask
        # all sums over depth run over the rows that hold bars only
        self.rows = np.flatnonzero(mask.any(axis=(0, 1)))
        self.on_rows = mask[:, :, self.rows]
        self.vectors = (self.axes[0].vector, self.axes[1].vector, self.axes[2].vector[self.rows])

    @property
    def unknowns(self):
        """Unknowns of the whole box."""
        return int(np.prod(self.shape))

    def spectrum(self, current):
        """Modes of the potential that currents on the bars cause."""
        x, y, z = self.vectors
        modes = np.zeros(self.on_rows.shape)
        modes[self.on_rows] = current
        for vector in (x, y, z):
            modes = np.tensordot(modes, vector, axes=(0, 0))
        return modes * self.inverse

    def on_bars(self, current):
        """Potential of the bars for currents on them."""
        x, y, z = self.vectors
        v = self.spectrum(current) @ z.T
        v = np.tensordot(x, v, axes=(1, 0))
        return np.matmul(y, v)[self.on_rows]

    def solve(self, tolerance=1e-4):
        """Currents on the bars for one volt by conjugate gradients; returns the resistance. [ohm]"""
        squares = [vector**2 for vector in self.vectors]
        # the diagonal of the inverse stiffness matrix as preconditioner
        diagonal = np.einsum("abc,ia,jb,kc->ijk", self.inverse, *squares, optimize=True)[self.on_rows]
        right = np.ones(int(self.mask.sum()))
        q, r = np.zeros_like(right), right
        p = u = r / diagonal
        ru = r @ u
        for _ in range(1000):
            ap = self.on_bars(p)
            step = ru / (p @ ap)
            q, r = q + step * p, r - step * ap
            if np.linalg.norm(r) <= tolerance * np.linalg.norm(right):
                break
            u = r / diagonal
            ru, before = r @ u, ru
            p = u + ru / before * p
        else:
            raise RuntimeError("conjugate gradients did not converge")
        self.modes = self.spectrum(q)
        return 1.0 / (4.0 * float(q.sum()))

    def surface(self, points):
        """Potential at surface points (n, 2), one volt on the bars."""
        points = np.abs(np.asarray(points, dtype=float))
        x, y = self.axes[0].at(points[:, 0]), self.axes[1].at(points[:, 1])
        z = self.axes[2].at(np.zeros(1))[0]
        return np.einsum("abc,pa,pb,c->p", self.modes, x, y, z, optimize=True)
