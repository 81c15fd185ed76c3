"""Earth faults: prospective current, X/R, decrement and growth, for shock and for heating.

The entry is :func:`fault_currents`.
"""

from __future__ import annotations

from evenground.fault.currents import fault_currents

__all__ = ["fault_currents"]
