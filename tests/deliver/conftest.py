"""A study of an invented site: the real project file and the real light stages, with a soil result and a
surface potential made from elementary formulas instead of the field solution."""

import math
from pathlib import Path

import numpy as np
import pytest

from evenground import _study_parts as parts
from evenground._version import __version__
from evenground.conductor import size_conductor
from evenground.electrode import build_electrode
from evenground.fault import fault_currents
from evenground.model.soil import (
    ApparentReading,
    ArrayKind,
    LayeredSoil,
    SoilCandidate,
    SoilResult,
)
from evenground.model.study import FieldSummary, Study
from evenground.project import load_project
from evenground.provenance import recording
from evenground.safety import assess_shocks, judge

ROOT = Path(__file__).resolve().parents[2]
MADE_ON = "2026-04-17"


def two_layer_wenner(a_m, top, bottom, thickness):
    """Apparent resistivity of two layers by the image series (Tagg, Earth Resistances, 1964)."""
    k = (bottom - top) / (bottom + top)
    total = 0.0
    for n in range(1, 400):
        u = 2 * n * thickness / a_m
        total += k**n * (1 / math.sqrt(1 + u * u) - 1 / math.sqrt(4 + u * u))
    return top * (1 + 4 * total)


def plain_soil(project):
    """Readings as apparent resistivity, two fitted-looking candidates, one reading left out."""
    soil = LayeredSoil((262.0, 96.5), (1.9,))
    readings = []
    for traverse in project.traverses:
        for number, row in enumerate(traverse.readings):
            position = row.spacing_m or row.half_current_m
            resistance = row.resistance_ohm or row.voltage_v / row.current_a
            if traverse.array is ArrayKind.WENNER:
                measured = 2 * math.pi * position * resistance
            else:
                b = row.half_potential_m
                measured = math.pi * (position**2 - b**2) / (2 * b) * resistance
            model = two_layer_wenner(position, 262.0, 96.5, 1.9)
            left_out = traverse is project.traverses[1] and number == 2
            readings.append(
                ApparentReading(
                    traverse.name,
                    traverse.array,
                    position,
                    row.half_potential_m,
                    resistance,
                    measured,
                    row.probe_depth_m or 0.0,
                    not left_out,
                    model,
                    math.log(measured / model),
                    ("left out by hand",) if left_out else (),
                )
            )
    positions = tuple(float(v) for v in np.geomspace(0.8, 100, 60))
    return SoilResult(
        soil=soil,
        chosen="two layers",
        reason="the uniform model misses the readings by 38 % rms, two layers by 4.1 %; noise is about 5 %",
        readings=tuple(readings),
        candidates=(
            SoilCandidate("uniform", LayeredSoil((135.0,)), 0.38, 0.71, 1, bic=40.2, std_ln=(0.07,)),
            SoilCandidate("two layers", soil, 0.041, 0.11, 3, (), 12, 11, 0.8, -60.1, (0.02, 0.015, 0.04)),
        ),
        noise=0.05,
        noise_source="from repeated traverses",
        longest_spacing_m=48.0,
        warnings=("the longest spacing (48 m) is shorter than the diagonal of the mat (86 m)",),
        curve_positions_m=positions,
        curves_ohm_m={
            "uniform": tuple(135.0 for _ in positions),
            "two layers": tuple(two_layer_wenner(a, 262.0, 96.5, 1.9) for a in positions),
        },
    )


def line_potential(electrode):
    """Surface potential of equal leakage along every conductor in uniform soil, as a share of the
    largest value near the metal (Sunde, Earth Conduction Effects, 1949)."""
    rows = [(np.array(c.start_m), np.array(c.end_m)) for c in electrode]

    def raw(x, y):
        total = np.zeros(np.shape(x))
        for start, end in rows:
            axis = end - start
            length = np.linalg.norm(axis)
            axis = axis / length
            rel = (x - start[0], y - start[1], -start[2])
            t = rel[0] * axis[0] + rel[1] * axis[1] + rel[2] * axis[2]
            d2 = rel[0] ** 2 + rel[1] ** 2 + rel[2] ** 2 - t**2
            d = np.sqrt(np.maximum(d2, 0.05**2))
            total += np.arcsinh((length - t) / d) + np.arcsinh(t / d)
        return total

    # scaled so that mid-mesh values look like those of a mat
    largest = float(np.max(raw(np.linspace(0, 70, 281), np.full(281, 25.0))))
    return lambda x, y: raw(np.asarray(x, float), np.asarray(y, float)) / (1.08 * largest)


def build_study(file):
    """What the study does, with stand-ins for soil and field."""
    project = load_project(file)
    with recording() as sheet:
        soil = plain_soil(project)
        faults = tuple(fault_currents(f, frequency_hz=project.frequency_hz) for f in project.faults)
        conductors = {k: size_conductor(r, faults) for k, r in project.conductors.items()}
        layout = build_electrode(
            project.mats, project.rods, project.runs, {k: c.radius_m for k, c in conductors.items()}
        )
        field = FieldSummary(
            0.962, 0.004, 812, 2, 3.1e-8, 2.0e-13, 4.0e-12, 1, "dense", 1.25, ("metal at one potential",)
        )
        gpr_v = parts.potential_rise(faults, field.resistance_ohm)
        closed = parts.closed_form(layout, soil, faults)
        safety = assess_shocks(
            line_potential(layout.electrode),
            layout.outlines_m,
            project.surface,
            faults,
            gpr_v,
            project.assessment,
            soil.soil.resistivities_ohm_m[0],
        )
        checks = judge(
            safety.shocks, safety.limits, field, conductors, faults, gpr_v, closed, project.assessment
        )
    return Study(
        project=project,
        version=__version__,
        soil=soil,
        faults=faults,
        conductors=conductors,
        electrode=layout.electrode,
        field=field,
        closed_form=closed,
        gpr_v=gpr_v,
        limits=safety.limits,
        shocks=safety.shocks,
        checks=checks,
        findings=parts.findings(project, soil, faults, conductors, layout, checks),
        map=safety.map,
        profiles=safety.profiles,
        steps=tuple(sheet.steps),
        not_checked=parts.not_checked(project),
        quantities=parts.quantities(layout),
    )


@pytest.fixture(scope="session")
def study():
    return build_study(ROOT / "examples" / "harrow-lane" / "site.yaml")
