"""Write docs/validation.md: published values beside what the program computes now.

Run ``python docs/make_validation.py``. A test runs the same rows and fails when one leaves its tolerance
or when the page lacks one.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot, log, pi
from pathlib import Path

import numpy as np

from evenground.electrode import Electrode, build_electrode, rectangular_mat
from evenground.field import solve
from evenground.model.electrode import Conductor
from evenground.model.fault import FaultScenario, SequenceImpedances
from evenground.model.site import MatLayout, RodRule
from evenground.model.soil import ArrayKind, LayeredSoil, SoilReading, Traverse
from evenground.soil import fit_layers, process_readings, wenner_apparent_resistivity
from evenground.standards import ieee80
from evenground.standards.ieee80_mat import MatGeometry, mat_resistances, mesh_and_step_voltage
from evenground.standards.materials import MATERIALS

PAGE = Path(__file__).with_name("validation.md")
sys.path.insert(0, str(PAGE.parent))
import validation_annex_b  # noqa: E402
import validation_field  # noqa: E402


@dataclass(frozen=True)
class Row:
    """One comparison; ``tolerance`` is relative, ``why`` its reason."""

    group: str
    what: str
    published: float
    computed: float
    tolerance: float
    why: str

    @property
    def deviation(self) -> float:
        """Relative deviation of the computed value."""
        return self.computed / self.published - 1


def annex_b_formulas() -> Iterator[Row]:
    """IEEE Std 80-2000 Annex B, hand formulas."""
    cases = {
        "B.1": ((4900, 280, 70, 70, 1540, 0, 0.0), 2.78, 1002.1),
        "B.2": ((4900, 280, 70, 70, 1540, 20, 7.5), 2.75, 747.4),
        "B.3": ((5292, 294, 63, 84, 1659, 38, 10.0), 2.62, 595.8),
        "B.4": ((4900, 350, 70, 105, 1575, 24, 7.5), 2.74, 761.1),
    }
    for name, ((area, perimeter, x, y, length, rods, rod), resistance, mesh) in cases.items():
        geometry = MatGeometry(
            area,
            perimeter,
            x,
            y,
            hypot(x, y),
            length,
            7.0,
            0.5,
            0.01,
            rods,
            rod,
            rods * rod,
            0.0142,
            rods > 0,
        )
        group = "IEEE Std 80-2000, Annex B, hand formulas (from memory, cross-checked)"
        value = mat_resistances(geometry, 400.0).values_ohm["Sverak"]
        assert value is not None
        yield Row(group, f"{name} resistance, ohm", resistance, value, 2e-3, "printed with three digits")
        voltage = mesh_and_step_voltage(geometry, 400.0, 1908.0).mesh_v
        assert voltage is not None
        yield Row(group, f"{name} mesh voltage, V", mesh, voltage, 6e-3, "the guide rounds at every step")


def annex_b_field() -> Iterator[Row]:
    """IEEE Std 80-2000 Annex B, computer results quoted by the guide."""
    square = ((0.0, 0.0), (70.0, 0.0), (70.0, 70.0), (0.0, 70.0))
    ell = ((0.0, 0.0), (70.0, 0.0), (70.0, 35.0), (35.0, 35.0), (35.0, 105.0), (0.0, 105.0))
    rectangle = ((0.0, 0.0), (63.0, 0.0), (63.0, 84.0), (0.0, 84.0))
    cases = (
        ("B.1", square, (), 2.67, 984.3),
        ("B.2", square, (RodRule("perimeter", 7.5, 10.0, count=20),), 2.52, 756.2),
        ("B.3", rectangle, (RodRule("perimeter", 10.0, 10.0, count=38),), 2.28, 519.4),
        ("B.4", ell, (RodRule("perimeter", 7.5, 10.0, count=25),), 2.34, None),
    )
    group = "IEEE Std 80-2000, Annex B, computer results quoted there (from memory)"
    for name, outline, rods, resistance, touch in cases:
        mat = MatLayout("m", outline, 7.0, 7.0, 0.5, rods=rods)
        electrode = build_electrode([mat], [], [], {"mat": 0.005}).electrode
        solution = solve(electrode, LayeredSoil((400.0,)))
        yield Row(
            group,
            f"{name} resistance, ohm",
            resistance,
            solution.resistance_ohm,
            0.03,
            "rod places not printed",
        )
        if touch:
            raster = np.array(
                [(x, y, 0.0) for x in np.linspace(0.5, 6.5, 25) for y in np.linspace(0.5, 6.5, 25)]
            )
            worst = 1908 * solution.resistance_ohm * (1 - solution.potential_v(raster).min())
            yield Row(group, f"{name} touch, corner mesh, V", touch, worst, 0.10, "rod places not printed")


def electrodes() -> Iterator[Row]:
    """Electrodes with a closed form or a solution of high accuracy."""
    soil = LayeredSoil((100.0,))
    group = "Electrodes with exact or independent high-accuracy solutions, 100 ohm m"
    for length, radius, value in ((3, 0.008, 33.20097), (10, 0.010, 11.53896), (30, 0.0125, 4.31475)):
        rod = Electrode([Conductor((0, 0, 0), (0, 0, length), radius, kind="rod")])
        name = f"flush rod {length} m as hollow tube (axisymmetric integral equation), ohm"
        yield Row(group, name, value, solve(rod, soil).resistance_ohm, 5e-3, "thin-wire model against a tube")
    for radius, depth, value in ((5.0, 0.5, 6.41839), (10.0, 0.8, 3.44181)):
        corners = [(radius * np.cos(t), radius * np.sin(t), depth) for t in np.linspace(0, 2 * pi, 97)[:-1]]
        ring = Electrode(
            Conductor(a, b, 0.005) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)
        )
        name = f"ring of {radius:g} m radius at {depth:g} m (elliptic integral), ohm"
        yield Row(group, name, value, solve(ring, soil).resistance_ohm, 3e-3, "96-sided polygon for the ring")
    wire = Electrode([Conductor((0, 0, 0.5), (10, 0, 0.5), 0.005)])
    deep = (
        solve(wire, LayeredSoil((100.0, 300.0), (200.0,))).resistance_ohm - solve(wire, soil).resistance_ohm
    )
    exact = -100 * log(1 - 0.5) / (2 * pi * 200)
    yield Row(
        group, "far interface: rise of R, -rho1 ln(1-K)/(2 pi H), ohm", exact, deep, 2e-3, "exact limit"
    )


def surveys() -> Iterator[Row]:
    """Soil surveys."""
    spacing = (2.5, 5.0, 7.5, 10.0, 12.5, 15.0)
    values = (320.0, 245.0, 182.0, 162.0, 168.0, 152.0)
    rows = tuple(
        SoilReading(spacing_m=a, apparent_resistivity_ohm_m=r) for a, r in zip(spacing, values, strict=True)
    )
    readings, _ = process_readings([Traverse("T", ArrayKind.WENNER, rows)])
    fit = fit_layers(readings, layers=2, norm="relative").soil
    group = (
        "Six-reading Wenner set, relative least squares (Seedher and Arora 1992, from memory, cross-checked)"
    )
    for name, published, value in (
        ("upper resistivity, ohm m", 372.729, fit.resistivities_ohm_m[0]),
        ("lower resistivity, ohm m", 145.259, fit.resistivities_ohm_m[1]),
        ("thickness, m", 2.690, fit.thicknesses_m[0]),
    ):
        yield Row(group, name, published, value, 5e-4, "printed digits")
    group = "Two-layer sounding curve, image series in high precision (mpmath)"
    exact = (101.8699994858363, 111.8235911136432, 150.6039617346285, 229.9000134074922, 327.596444892265)
    curve = wenner_apparent_resistivity((1, 2, 4, 8, 16), LayeredSoil((100.0, 500.0), (3.0,)))
    for a, published, value in zip((1, 2, 4, 8, 16), exact, curve, strict=True):
        yield Row(
            group, f"100 over 500 ohm m at 3 m, a = {a} m", published, float(value), 1e-9, "filter accuracy"
        )


def currents_and_metal() -> Iterator[Row]:
    """Fault current, decrement, conductor."""
    group = "IEEE Std 80-2000, Annex B and Tables 2, 10 (from memory, cross-checked)"
    z = SequenceImpedances(4 + 10j, 4 + 10j, 10 + 40j)
    scenario = FaultScenario("bus", 115e3, 0.5, 0.5, sequence=z)
    from evenground.fault import fault_currents

    result = fault_currents(scenario, frequency_hz=60.0)
    yield Row(group, "115 kV fault 3I0, A", 3180, result.earth_fault_current_a, 1e-3, "printed digits")
    assert result.x_over_r is not None
    yield Row(group, "115 kV fault X/R", 3.33, result.x_over_r, 2e-3, "printed digits")
    for time, published in ((0.05, 1.378), (0.1, 1.232), (0.5, 1.052), (1.0, 1.026)):
        value = ieee80.decrement_factor(ieee80.dc_time_constant(20.0, 60.0), time)
        yield Row(group, f"decrement factor, X/R 20, {time:g} s", published, value, 5e-4, "printed digits")
    for key, published in (
        ("copper_hard_drawn", 7.06),
        ("zinc_coated_steel_rod", 28.96),
        ("steel_1020", 15.95),
    ):
        m = MATERIALS[key]
        value = ieee80.conductor_kf(
            m.heat_capacity_j_per_cm3_k,
            m.temperature_coefficient_per_k,
            m.resistivity_uohm_cm,
            m.k0_c,
            m.fusing_temperature_c,
            40.0,
        )
        yield Row(group, f"Kf of {m.name}", published, value, 1e-3, "printed digits")


def scaling() -> Iterator[Row]:
    """Identities that hold exactly."""
    group = "Identities of the field solution"
    mat = rectangular_mat(length_x_m=20, length_y_m=10, meshes_x=4, meshes_y=2, depth_m=0.6, radius_m=0.006)
    one = solve(mat, LayeredSoil((100.0, 400.0), (2.0,))).resistance_ohm
    ten = solve(mat, LayeredSoil((1000.0, 4000.0), (2.0,))).resistance_ohm
    yield Row(
        group,
        "resistance in soil ten times as resistive, over that in the soil",
        10.0,
        ten / one,
        1e-9,
        "exact",
    )
    same = solve(mat, LayeredSoil((100.0, 100.0), (2.0,))).resistance_ohm
    alone = solve(mat, LayeredSoil((100.0,))).resistance_ohm
    yield Row(group, "resistance in two equal layers, over that in one", 1.0, same / alone, 1e-6, "exact")


def rows() -> Iterator[Row]:
    """Every comparison of the page."""
    for part in (annex_b_formulas, annex_b_field, electrodes, surveys, currents_and_metal, scaling):
        yield from part()
    for module in (validation_annex_b, validation_field):
        for row in module.rows():
            yield Row(*row)


INTRODUCTION = """# Validation

Published or independently computed values beside what Evenground computes, written by `docs/make_validation.py`. The
tests check many more; `tests/published` has one file per source. "From memory" marks values not seen in print by
the authors of this page; "cross-checked" that an independent relation reproduces them. A tolerance says what agreement
can be expected, and why. This page is evidence, not a guarantee: check the program on a case of your own.
"""


def page() -> str:
    """The page as Markdown."""
    parts, group = [INTRODUCTION], ""
    for row in rows():
        if row.group != group:
            group = row.group
            parts.append(
                f"\n## {group}\n\n| what | source | computed | deviation | tolerance, why |\n|---|---|---|---|---|"
            )
        parts.append(
            f"| {row.what} | {row.published:.6g} | {row.computed:.6g} | {round(row.deviation, 4) + 0.0:+.2%} "
            f"| {row.tolerance:.2g}, {row.why} |"
        )
    return "\n".join(parts) + "\n"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
