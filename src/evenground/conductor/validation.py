"""What a conductor request must be before it can be sized."""

from __future__ import annotations

import math

from evenground.conductor._methods import METHODS, check_method
from evenground.errors import Finding
from evenground.model.conductor import ConductorRequest
from evenground.standards.materials import JOINT_LIMITS, MATERIALS

__all__ = ["check_request", "request_finding"]

_CHOICES = {
    "material": tuple(MATERIALS),
    "method": METHODS,
    "joint": tuple(JOINT_LIMITS),
    "shape": ("round", "strand", "strip"),
    "stock_series": ("metric", "awg"),
}
_SIZES = ("diameter_mm", "width_mm", "thickness_mm", "area_mm2", "min_area_mm2")
_NOT_NEGATIVE = ("corrosion_rate_mm_per_year", "life_years", "corrosion_area_fraction")


def request_finding(request: ConductorRequest, code: str, message: str, *field_path: str) -> Finding:
    """A finding tied to a field of the request."""
    return Finding(
        code=code, message=f"{request.role} conductor: {message}", path=(*request.path, *field_path)
    )


def check_request(request: ConductorRequest) -> list[Finding]:
    """Every fault of the request."""
    findings = []
    for name, choices in _CHOICES.items():
        value = getattr(request, name)
        if value not in choices:
            text = f"{name}: {value!r} is unknown; known are {', '.join(choices)}"
            findings.append(request_finding(request, "conductor-choice", text, name))
    for name in _SIZES:
        value = getattr(request, name)
        if value is not None and not (math.isfinite(value) and value > 0.0):
            text = f"{name} must be a finite number above zero, got {value!r}"
            findings.append(request_finding(request, "conductor-value", text, name))
    for name in _NOT_NEGATIVE:
        value = getattr(request, name)
        if not (math.isfinite(value) and value >= 0.0):
            text = f"{name} must be zero or more, got {value!r}"
            findings.append(request_finding(request, "conductor-value", text, name))
    findings += _check_temperatures(request)
    if not 0.0 < request.current_share <= 1.0:
        text = f"current_share must be above 0 and not above 1, got {request.current_share!r}"
        findings.append(request_finding(request, "conductor-value", text, "current_share"))
    if not findings:
        findings += _check_method(request)
        findings += _check_section(request)
    return findings


def _check_temperatures(request: ConductorRequest) -> list[Finding]:
    start, end = request.initial_temperature_c, request.max_temperature_c
    if not (math.isfinite(start) and -60.0 <= start <= 150.0):
        text = f"initial temperature must lie between -60 and 150 °C, got {start!r}"
        return [request_finding(request, "conductor-temperature", text, "initial_temperature_c")]
    if end is not None and not (math.isfinite(end) and end > start):
        text = f"final temperature must be above the initial {start:g} °C, got {end!r}"
        return [request_finding(request, "conductor-temperature", text, "max_temperature_c")]
    return []


def _check_method(request: ConductorRequest) -> list[Finding]:
    wrong = check_method(request, MATERIALS[request.material])
    return [] if wrong is None else [request_finding(request, "conductor-method", *wrong)]


def _check_section(request: ConductorRequest) -> list[Finding]:
    diameter, area = request.diameter_mm, request.area_mm2
    if request.shape == "strip":
        if (request.width_mm is None) != (request.thickness_mm is None) and request.width_mm is not None:
            text = "a strip needs width and thickness"
            return [request_finding(request, "conductor-section", text, "thickness_mm")]
        width, thickness = request.width_mm, request.thickness_mm
        box = None if width is None or thickness is None else width * thickness
    else:
        box = None if diameter is None else math.pi / 4.0 * diameter**2
    if box is not None and area is not None and area > box * 1.005:
        text = f"{area:g} mm² of metal do not fit into the stated outline of {box:.4g} mm²"
        return [request_finding(request, "conductor-section", text, "area_mm2")]
    return []
