"""An existing site without drawings: what the tests alone allow to say."""

from __future__ import annotations

import math

from evenground.errors import Finding, InputError
from evenground.model.sitetest import EnvelopeResult, KnownTests
from evenground.model.study import Check, Verdict
from evenground.sitetest._judge import below
from evenground.standards.ieee81 import least_resistance

__all__ = ["exceeding_share", "existing_site_envelope"]


def exceeding_share(count: int, confidence: float = 0.95) -> float:
    """Greatest share of places that may exceed the largest of ``count`` read at random. [-]

    Order statistics without any distribution: 1 - (1 - confidence)^(1/count).

    Raises
    ------
    InputError
        When nothing was read or the confidence is not between 0 and 1.
    """
    if count < 1 or not 0.0 < confidence < 1.0:
        raise InputError("count, confidence: at least one place and a confidence between 0 and 1 are needed")
    return 1.0 - math.pow(1.0 - confidence, 1.0 / count)


def existing_site_envelope(known: KnownTests, *, confidence: float = 0.95) -> EnvelopeResult:
    """Bounds on the rise of the mat and on touch voltage, each with what it rests on.

    Raises
    ------
    InputError
        When the resistance, its uncertainty or the currents make no sense.
    """
    _check(known)
    low = known.resistance_ohm * (1.0 - known.resistance_uncertainty) * known.fault_current_a
    high = known.resistance_ohm * (1.0 + known.resistance_uncertainty) * known.fault_current_upper_a
    statements = [
        f"The rise of the mat lies between {low:.4g} and {high:.4g} V: measured resistance with its "
        "uncertainty, times the current"
        + (
            "."
            if known.paths_excluded
            else ", if no ground wire, sheath, neutral or pipe was part of the measurement (not noted)."
        ),
        f"Then no touch voltage on bonded metal exceeds {high:.4g} V, except by metal that "
        "brings in remote potential.",
    ]
    least, least_checks = _least(known, statements)
    hidden = any(c.verdict is Verdict.FAIL for c in least_checks)
    touch, checks = _touch(known, high, statements, hidden)
    checks += least_checks
    share = _share(known, confidence, statements)
    _risers(known, statements, checks)
    return EnvelopeResult(low, high, touch, share, confidence, least, tuple(statements), tuple(checks))


def _check(known: KnownTests) -> None:
    findings = []
    for name in ("resistance_ohm", "fault_current_a", "fault_current_upper_a"):
        value = getattr(known, name)
        if not (math.isfinite(value) and value > 0):
            findings.append(Finding("envelope-number", f"{name}: {value} is not a finite number above 0"))
    if not 0.0 <= known.resistance_uncertainty < 1.0:
        findings.append(Finding("envelope-uncertainty", "resistance_uncertainty: must lie from 0 to below 1"))
    if known.fault_current_upper_a < known.fault_current_a:
        findings.append(Finding("envelope-current", "fault_current_upper_a: is below the best value"))
    if not 0 <= known.risers_connected <= known.risers_tested:
        findings.append(Finding("envelope-risers", "risers_connected: must lie from 0 to those tested"))
    if findings:
        raise InputError(findings)


def _touch(known: KnownTests, rise: float, statements: list[str], hidden: bool) -> tuple[float, list[Check]]:
    """Upper bound of touch voltage anywhere: the rise itself, whatever was read elsewhere."""
    verdict, reason = Verdict.NOT_DECIDED, "no limit was given"
    read = [p.high_v for p in known.places if p.quantity == "touch" and p.high_v is not None]
    if known.limit_v is not None:
        limit = known.limit_v
        verdict = below(0.0, rise, limit)
        reason = "the whole rise keeps the limit"
        if verdict is not Verdict.PASS:
            reason = (
                "the rise exceeds the limit and unread places stay open: find the metal or read every place"
            )
        elif hidden or not known.paths_excluded:
            verdict = Verdict.NOT_DECIDED
            reason = "other paths may be part of the measured resistance; the mat's own may be higher"
        broken = [
            p.name for p in known.places if p.quantity == "touch" and p.low_v is not None and p.low_v > limit
        ]
        if broken:
            verdict, reason = Verdict.FAIL, f"already above the limit at {', '.join(broken)}"
    if read:
        statements.append(
            f"Of the places read, the largest touch voltage is {max(read):.4g} V with its uncertainty."
        )
    check = Check(
        identity="envelope-touch",
        title="Touch voltage anywhere on the site, from tests alone",
        verdict=verdict,
        value=rise,
        limit=known.limit_v,
        unit="V",
        method="measured resistance times current",
        reason=reason,
    )
    return rise, [check]


def _share(known: KnownTests, confidence: float, statements: list[str]) -> float | None:
    count = sum(1 for p in known.places if p.quantity == "touch" and p.high_v is not None)
    if not count:
        statements.append("No touch voltage was read: nothing can be said below the rise of the mat.")
        return None
    if not known.places_random:
        statements.append(
            "The places were picked, not drawn at random: nothing follows for the places that were not read."
        )
        return None
    share = exceeding_share(count, confidence)
    statements.append(
        f"With {100 * confidence:.0f} % confidence at most {100 * share:.2g} % of all places exceed the "
        f"largest of the {count} read at random."
    )
    return share


def _least(known: KnownTests, statements: list[str]) -> tuple[float | None, list[Check]]:
    if known.soil is None or known.radius_m is None or known.depth_m is None:
        statements.append("Without soil and extent the resistance can not be checked for hidden paths.")
        return None, []
    # the lowest resistivity everywhere gives the lowest resistance that any buried metal could have
    lowest = min(known.soil.resistivities_ohm_m)
    value = least_resistance(lowest, known.radius_m, min(known.depth_m, known.radius_m))
    top = known.resistance_ohm * (1.0 + known.resistance_uncertainty)
    bottom = known.resistance_ohm * (1.0 - known.resistance_uncertainty)
    hidden = top < value
    if hidden:
        statements.append(
            f"The measured resistance is below {value:.4g} ohm, the least that metal within "
            f"{known.radius_m:.3g} m can have: ground wires, sheaths, neutrals or pipes were part of the "
            "reading, and the split of the fault is not the split of the test."
        )
    else:
        statements.append(f"No buried metal within {known.radius_m:.3g} m has less than {value:.4g} ohm.")
    check = Check(
        identity="envelope-hidden-paths",
        title="Measured resistance against the least possible one",
        verdict=Verdict.FAIL if hidden else Verdict.PASS if bottom > value else Verdict.NOT_DECIDED,
        value=known.resistance_ohm,
        limit=value,
        unit="ohm",
        sense="min",
        method="potential theory, lowest resistivity throughout",
        governing=False,
    )
    return value, [check]


def _risers(known: KnownTests, statements: list[str], checks: list[Check]) -> None:
    if not known.risers_tested:
        statements.append("No riser was tested: a frame may not be joined to the mat at all.")
        return
    open_ = known.risers_tested - known.risers_connected
    statements.append(
        f"{known.risers_connected} of {known.risers_tested} risers tested are joined to the mat."
    )
    checks.append(
        Check(
            identity="envelope-risers",
            title="Risers that are not joined to the mat",
            verdict=Verdict.PASS if open_ == 0 else Verdict.FAIL,
            value=float(open_),
            limit=0.0,
            unit="",
            method="continuity test",
        )
    )
