"""How the results of a study answer to other inputs."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["SensitivityRow"]


@dataclass(frozen=True, slots=True)
class SensitivityRow:
    """One change of one input, everything else as designed.

    Attributes
    ----------
    subject, change : str
        What is changed (``"soil, all layers"``) and how (``"× 1.5"``); empty change: as designed.
    resistance_ohm, gpr_v : float or None
        Resistance to earth and the highest earth potential rise. [ohm, V]
    touch, step : float or None
        Largest value over limit of all zones and scenarios; None: not decided.
    method : str
        ``"exact"``: follows from the solution by proportion; ``"limits"``: only the limits change, worked out
        anew; ``"solved again"``: the field was solved anew.
    note : str
        Why something is not decided.
    """

    subject: str
    change: str
    resistance_ohm: float | None
    gpr_v: float | None
    touch: float | None
    step: float | None
    method: str
    note: str = ""
