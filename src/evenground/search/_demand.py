"""What a design must keep, and how an estimate is read in the light of full studies."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from evenground.model.study import Check, Study, Verdict
from evenground.search._estimate import Estimate

__all__ = ["Demand", "Judged", "Scale", "judged", "of_metal", "smallest_margin"]

OF_METAL = (
    "touch-",
    "step-",
    "driving-",
    "transfer-",
    "conductor-",
    "lead-",
    "mast-electrode",
    "resistance",
    "gpr",
)
"""Beginnings of the identities of checks that the buried metal and the cover decide."""


def of_metal(identity: str) -> bool:
    """Whether a search over metal and cover can change the outcome of a check."""
    return identity.startswith(OF_METAL)


@dataclass(frozen=True, slots=True)
class Judged:
    """What the search keeps of a full study: value over limit and verdict of each governing check.

    ``titles`` are the checks in words; ``volts`` the identities of those in volts.
    """

    ratios: Mapping[str, float]
    verdicts: Mapping[str, str]
    titles: Mapping[str, str]
    volts: tuple[str, ...]
    resistance_ohm: float
    rise_v: float


def judged(study: Study) -> Judged:
    """Take over the governing checks of a study."""
    rows = [c for c in study.checks if c.governing]
    ratios = {c.identity: r for c in rows if (r := _ratio(c)) is not None}
    return Judged(
        ratios,
        {c.identity: c.verdict.value for c in rows},
        {c.identity: c.title for c in rows},
        tuple(c.identity for c in rows if c.unit == "V" and c.identity in ratios),
        study.field.resistance_ohm,
        max(study.gpr_v.values()),
    )


def _ratio(check: Check) -> float | None:
    """Value over limit, or limit over value where more is better; None without numbers."""
    value, limit = check.value, check.limit
    if value is None or limit is None or value <= 0 or limit <= 0 or check.unit not in ("V", "mm2", "ohm"):
        return None
    return value / limit if check.sense == "max" else limit / value


@dataclass(frozen=True, slots=True)
class Scale:
    """Ratio of a full study to the estimate, by check; where the estimate has no such check, per volt."""

    factors: Mapping[str, float] = field(default_factory=dict)
    per_volt: Mapping[str, float] = field(default_factory=dict)

    @classmethod
    def of(cls, found: Judged, guess: Estimate) -> Scale:
        """The scale that makes the estimate of a draft equal its study."""
        factors = {k: r / guess.ratios[k] for k, r in found.ratios.items() if guess.ratios.get(k)}
        rest = {k: found.ratios[k] / guess.rise_v for k in found.volts if k not in factors}
        return cls(factors, rest)

    def read(self, guess: Estimate) -> dict[str, float]:
        """Value over limit of every check, as a full study would be expected to find it."""
        own = {k: v * self.factors.get(k, 1.0) for k, v in guess.ratios.items()}
        return own | {k: v * guess.rise_v for k, v in self.per_volt.items()}


@dataclass(frozen=True, slots=True)
class Demand:
    """What is asked of a design.

    Attributes
    ----------
    margin : float
        Least margin of every check in volts.
    start : Judged
        Study of the project as drawn.
    keep : bool
        The smallest margin of touch, of step and of every other kind of check in volts may not become
        smaller than it is as drawn.
    """

    margin: float
    start: Judged
    keep: bool = False

    def allowed(self, identity: str) -> float:
        """Largest value over limit of a check."""
        if identity not in self.start.volts and not identity.startswith(("touch-", "step-")):
            return 1.0
        most = 1.0 - self.margin
        kind = identity.partition("-")[0]
        own = [r for k, r in self.start.ratios.items() if k in self.start.volts and k.startswith(f"{kind}-")]
        return min(most, max(own, default=most)) if self.keep else most

    def excess(self, ratios: Mapping[str, float]) -> float:
        """By how much the worst check exceeds what is allowed, as a fraction; 0 or less: all kept."""
        return max((v / self.allowed(k) - 1.0 for k, v in ratios.items() if of_metal(k)), default=0.0)

    def fails(self, found: Judged) -> tuple[str, ...]:
        """Checks of a full study that are not as demanded, in words.

        A check that metal and cover do not decide may stay as it was.
        """
        words = []
        for key, verdict in found.verdicts.items():
            ratio = found.ratios.get(key)
            if not of_metal(key):
                if verdict != Verdict.PASS and verdict != self.start.verdicts.get(key):
                    words.append(f"{found.titles[key]}: {verdict}")
            elif verdict != Verdict.PASS:
                words.append(f"{found.titles[key]}: {verdict}")
            elif ratio is not None and ratio > self.allowed(key) * (1 + 1e-9):
                words.append(f"{found.titles[key]}: margin {1 - ratio:.1%} of {1 - self.allowed(key):.1%}")
        return tuple(words)


def smallest_margin(ratios: Mapping[str, float]) -> float:
    """Smallest margin of touch and step."""
    return 1.0 - max(v for k, v in ratios.items() if k.startswith(("touch-", "step-")))
