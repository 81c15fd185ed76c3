"""Numbers as people write them."""

from __future__ import annotations

__all__ = ["plain"]


def plain(value: float, digits: int = 3) -> str:
    """Rounded to significant digits and without a power of ten up to a million: 86700, not 8.67e+04."""
    return f"{float(f'{value:.{digits}g}'):.10g}" if 1e-3 <= abs(value) < 1e9 else f"{value:.{digits}g}"
