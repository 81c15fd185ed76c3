"""The whole lightning chapter of a study."""

from __future__ import annotations

from evenground.errors import Finding, InputError, Severity
from evenground.lightning._arresters import check_arresters, check_masts
from evenground.lightning._exposure import exposure
from evenground.lightning._impulse import impulse_response
from evenground.lightning._shielding import assess_shielding
from evenground.model.lightning import ImpulseResult, LightningRequest, LightningResult
from evenground.model.study import Check

__all__ = ["assess_lightning"]

_MOUSA = "300 kV/m, Mousa, IEEE Trans. Power Delivery 9 (1994)"
_CRITICAL_V_PER_M = 300e3


def assess_lightning(request: LightningRequest) -> LightningResult:
    """Assess every part that is given: shielding, exposure, arresters, masts, impulse response.

    Raises
    ------
    InputError
        When masts are given without the electrode they feed, or a part refuses its input.
    """
    checks: list[Check] = []
    findings: list[Finding] = []
    shielding = assess_shielding(request.shielding) if request.shielding else None
    if shielding:
        checks += shielding.checks
    exposed = exposure(request.exposure) if request.exposure else None
    if request.arresters:
        found = check_arresters(request.arresters)
        checks += found[0]
        findings += found[1]
    if request.masts:
        if request.electrode is None:
            raise InputError("masts: the electrode that they feed is needed")
        found = check_masts(
            request.electrode,
            request.masts,
            request.transformers,
            resistivity_ohm_m=request.resistivity_ohm_m,
            mat_resistance_ohm=request.mat_resistance_ohm,
        )
        checks += found[0]
        findings += found[1]
    impulses = tuple(impulse_response(i) for i in request.impulses)
    for part, result in zip(request.impulses, impulses, strict=True):
        findings += _impulse_findings(part.wave.name, result)
    names = tuple(i.wave.name for i in request.impulses)
    return LightningResult(shielding, exposed, impulses, tuple(checks), tuple(findings), names)


def _impulse_findings(wave: str, result: ImpulseResult) -> list[Finding]:
    findings = []
    if result.peak_gradient_v_per_m > _CRITICAL_V_PER_M and result.ionised_radius_m is None:
        findings.append(
            Finding(
                "impulse-ionisation",
                f"{wave}: field at the metal reaches {result.peak_gradient_v_per_m / 1e3:.3g} kV/m",
                f"the soil ionises above about {_MOUSA}; the voltage computed without it is on the high side",
                Severity.NOTE,
            )
        )
    findings += [
        Finding(
            "impulse-transferred",
            f"{wave}: {name} differs from the place of injection by {value / 1e3:.3g} kV at most",
            "lead control cables and pipes away from the place of injection; look at the insulation there",
            Severity.NOTE,
        )
        for name, value in result.watch_difference_v.items()
    ]
    return findings
