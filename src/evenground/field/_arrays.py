"""The packed arrays that the compiled kernels take; no Numba here.

Few and packed, because every array costs at each call of a compiled function.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["Packed"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class Packed(NamedTuple):
    """Segments, images and tables as the kernels take them, in the order of their arguments.

    Attributes
    ----------
    seg : (8, n)
        Rows: start x, y, z; end minus start x, y, z; length; radius. [m]
    tag : (5, n)
        Rows: depth class of both Gauss points and of the midpoint; layer; 1 for a horizontal segment.
    slices : (2, layers, layers + 1)
        First image and number of images of each (source layer, observer layer); last column: surface.
    image : (3, m)
        Rows: strength, flip, shift; see :class:`evenground.field._images.ImageSet`.
    row_of : (2, source classes, observer classes)
        Row of ``far`` and of ``rest`` for a pair of depth classes; -1: no table.
    far : (rows, cells, 4)
        Piecewise cubics over the squared horizontal distance, eight cells to the octave.
    rest : (rows, cells, 4)
        The same without the close images, over the squared distance plus ``height2``.
    height2 : (rows,)
        Squared height of the nearest image in ``rest``; 0: there is none. [m2]
    close : (2, rows)
        First and number of the close images of each row of ``rest``.
    close_image : (3, k)
        Rows: strength, flip, shift.
    base : (2,)
        Leading bits of the number where the first cell of ``far`` and of ``rest`` begins.
    """

    seg: FloatArray
    tag: IntArray
    slices: IntArray
    image: FloatArray
    row_of: IntArray
    far: FloatArray
    rest: FloatArray
    height2: FloatArray
    close: IntArray
    close_image: FloatArray
    base: IntArray
