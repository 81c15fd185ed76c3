"""Size of one kind of conductor against the worst of several fault scenarios."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from evenground.conductor._methods import own_limit, thermal_area
from evenground.conductor.sections import (
    STRAND_FILL,
    Section,
    equivalent_radius_mm,
    new_area_for_round,
    new_area_for_strip,
)
from evenground.conductor.validation import check_request, request_finding
from evenground.errors import InputError, OutOfRangeError
from evenground.model.conductor import ConductorRequest, ConductorResult
from evenground.model.fault import FaultResult
from evenground.standards.materials import JOINT_LIMITS, MATERIALS, Material
from evenground.standards.minimum_sizes import MinimumDimension, minimum_dimension
from evenground.standards.stock import StockSize, stock_sizes

__all__ = ["size_conductor"]

_ADIABATIC_LIMIT_S = 5.0
_ANNEALING_C = 250.0
_CLAD_JACKET_MM = 0.25


@dataclass(slots=True)
class _Remarks:
    notes: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def size_conductor(request: ConductorRequest, faults: Sequence[FaultResult]) -> ConductorResult:
    """Section that one kind of conductor needs, and what the stated section offers.

    Every scenario is evaluated with its thermal current and time; the largest section governs. No
    verdict is given here: the result holds required and remaining areas.

    Parameters
    ----------
    request : ConductorRequest
    faults : sequence of FaultResult
        At least one.

    Raises
    ------
    InputError
        With every fault of the request at once, each with the path of its field.
    """
    findings = check_request(request)
    if not faults:
        findings.append(request_finding(request, "conductor-no-fault", "no fault scenario to size it for"))
    if findings:
        raise InputError(findings)
    material = MATERIALS[request.material]
    remarks = _Remarks()
    limit_c, limited_by = _final_temperature(request, material, remarks)
    areas = [(f, _thermal_area(request, material, f, limit_c)) for f in faults]
    worst, thermal = max(areas, key=lambda pair: pair[1])
    if worst.scenario.heating_s > _ADIABATIC_LIMIT_S:
        remarks.warnings.append(
            f"the thermal time {worst.scenario.heating_s:g} s is beyond 5 s, for which the adiabatic "
            "equation is meant; it then asks for too much metal"
        )
    end_area = thermal * (1.0 + request.corrosion_area_fraction)
    minimum = _minimum(request, material)
    required = max(_new_area(request, end_area), minimum[0] or 0.0)
    governed_by = "thermal" if required > (minimum[0] or 0.0) else "mechanical minimum"
    installed = _installed(request)
    stock = _nearest_stock(request, material, end_area, minimum[0])
    _remark_sections(request, material, installed, minimum[1], remarks)
    return ConductorResult(
        request=request,
        scenario=worst.scenario.name,
        current_a=worst.thermal_current_a * request.current_share,
        time_s=worst.scenario.heating_s,
        final_temperature_c=limit_c,
        limited_by=limited_by,
        thermal_area_mm2=thermal,
        required_area_mm2=required,
        governed_by=governed_by,
        required_diameter_mm=math.sqrt(4.0 * required / math.pi),
        installed_area_mm2=None if installed is None else installed.area_mm2,
        remaining_area_mm2=None if installed is None else installed.remaining_area_mm2(_loss_mm(request)),
        stock_name=None if stock is None else stock.name,
        stock_area_mm2=None if stock is None else stock.area_mm2,
        radius_m=_radius_mm(installed, stock, required, remarks) / 1000.0,
        notes=tuple(remarks.notes),
        warnings=tuple(remarks.warnings),
        thermal_areas_mm2=tuple((f.scenario.name, area) for f, area in areas),
        minimum_area_mm2=minimum[0],
        end_of_life_area_mm2=end_area,
    )


def _loss_mm(request: ConductorRequest) -> float:
    return request.corrosion_rate_mm_per_year * request.life_years


def _final_temperature(request: ConductorRequest, material: Material, remarks: _Remarks) -> tuple[float, str]:
    """The lowest of what is asked for, what the metal bears and what the joint bears. [degC]"""
    joint = JOINT_LIMITS[request.joint]
    own = own_limit(request, material)
    if request.method == "cbip_steel":  # the rule has the joint in it
        return own
    limits = [own]
    if request.max_temperature_c is not None:
        limits.append((request.max_temperature_c, "stated final temperature"))
        if request.method != "ieee80":
            limits.remove(own)
            limits.append((material.fusing_temperature_c, "fusing of the metal"))
    joint_c = joint.limit_c
    proved = joint.proved_limit_c
    stated = request.max_temperature_c
    if joint_c is not None and proved is not None and stated is not None and joint_c < stated <= proved:
        remarks.warnings.append(
            f"{request.joint} joints are taken to bear {stated:g} °C: a type test must prove it "
            f"(usual limit {joint_c:g} °C)"
        )
        joint_c = stated
    if joint_c is not None:
        limits.append((joint_c, f"{request.joint} joint"))
    value, reason = min(limits, key=lambda pair: pair[0])
    if value <= request.initial_temperature_c:
        text = f"final temperature {value:g} °C ({reason}) is not above the initial temperature"
        raise InputError([request_finding(request, "conductor-temperature", text, "initial_temperature_c")])
    if material.key == "copper_hard_drawn" and value > _ANNEALING_C:
        remarks.notes.append(
            f"hard-drawn copper anneals above about 250 °C; at {value:g} °C it loses strength"
        )
    return value, reason


def _thermal_area(request: ConductorRequest, material: Material, fault: FaultResult, limit_c: float) -> float:
    current = fault.thermal_current_a * request.current_share
    time = fault.scenario.heating_s
    try:
        return thermal_area(request, material, current, time, limit_c)
    except OutOfRangeError as error:
        raise InputError([request_finding(request, "conductor-thermal", str(error))]) from error


def _new_area(request: ConductorRequest, end_area_mm2: float) -> float:
    """Area to install so that ``end_area_mm2`` is left at the end of life. [mm2]"""
    loss = _loss_mm(request)
    if request.shape == "strip":
        return new_area_for_strip(end_area_mm2, loss, request.thickness_mm)
    return new_area_for_round(end_area_mm2, loss, STRAND_FILL if request.shape == "strand" else 1.0)


def _minimum(request: ConductorRequest, material: Material) -> tuple[float | None, MinimumDimension | None]:
    row = minimum_dimension(material.metal, request.role, request.shape)
    if request.min_area_mm2 is not None:
        return request.min_area_mm2, row
    return (None if row is None else row.section_mm2), row


def _installed(request: ConductorRequest) -> Section | None:
    """The section stated in the request, or None when it states none."""
    if request.shape == "strip":
        if request.width_mm is None or request.thickness_mm is None:
            return None
        return Section.strip(request.width_mm, request.thickness_mm, request.area_mm2)
    if request.shape == "strand":
        if request.diameter_mm is None and request.area_mm2 is None:
            return None
        return Section.strand(request.diameter_mm, request.area_mm2)
    diameter = request.diameter_mm
    if diameter is None:
        if request.area_mm2 is None:
            return None
        diameter = math.sqrt(4.0 * request.area_mm2 / math.pi)
    return Section.round(diameter, request.area_mm2)


def _nearest_stock(
    request: ConductorRequest, material: Material, end_area_mm2: float, minimum_mm2: float | None
) -> StockSize | None:
    """Smallest stock size that keeps the thermal area to the end and meets the minimum by its name."""
    loss = _loss_mm(request)
    for size in stock_sizes(material.metal, request.shape, request.stock_series):
        enough = Section.of_stock(size).remaining_area_mm2(loss) >= end_area_mm2
        if enough and size.nominal_area_mm2 >= (minimum_mm2 or 0.0) * (1.0 - 1e-12):
            return size
    return None


def _radius_mm(
    installed: Section | None, stock: StockSize | None, required_mm2: float, remarks: _Remarks
) -> float:
    if installed is not None:
        return equivalent_radius_mm(installed)
    if stock is not None:
        return equivalent_radius_mm(Section.of_stock(stock))
    remarks.warnings.append(
        "no section stated and no stock size large enough: radius of the required round used"
    )
    return math.sqrt(required_mm2 / math.pi)


def _remark_sections(
    request: ConductorRequest,
    material: Material,
    installed: Section | None,
    row: MinimumDimension | None,
    remarks: _Remarks,
) -> None:
    loss = _loss_mm(request)
    if loss > 0.0 or request.corrosion_area_fraction > 0.0:
        remarks.notes.append(
            f"corrosion: {loss:g} mm off every surface over {request.life_years:g} years, and "
            f"{100.0 * request.corrosion_area_fraction:g} % on the thermal area"
        )
    if request.min_area_mm2 is None and row is None:
        remarks.warnings.append(f"no mechanical minimum is known for {material.name} as {request.shape}")
    elif request.min_area_mm2 is None and row is not None:
        remarks.notes.append(f"mechanical minimum from {row.source}")
    if request.role in ("mat", "rod") and material.metal in ("aluminium", "aluminium-clad steel"):
        remarks.warnings.append("aluminium in the soil corrodes fast and is not used for buried electrodes")
    if material.metal == "steel" and loss == 0.0 and request.corrosion_area_fraction == 0.0:
        remarks.warnings.append("bare steel without any allowance for corrosion")
    if material.metal == "copper-clad steel" and loss > _CLAD_JACKET_MM:
        remarks.warnings.append(
            f"a loss of {loss:g} mm eats through a copper jacket of {_CLAD_JACKET_MM:g} mm"
        )
    if row is not None:
        _remark_minimum(row, installed, remarks)


def _remark_minimum(row: MinimumDimension, installed: Section | None, remarks: _Remarks) -> None:
    given = None if installed is None else installed.thickness_mm
    if row.thickness_mm is not None and given is not None and given < row.thickness_mm:
        remarks.warnings.append(
            f"thickness {given:g} mm is below the minimum {row.thickness_mm:g} mm ({row.source})"
        )
    if row.diameter_no_lightning_mm is not None and row.diameter_mm is None:
        remarks.notes.append("this mechanical minimum holds only where lightning protection does not govern")
