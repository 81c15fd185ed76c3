"""Surveys that several test files use."""

import csv
from pathlib import Path

import pytest

from evenground.model.soil import ApparentReading, ArrayKind, SoilReading, Traverse
from evenground.soil import process_readings

DATA = Path(__file__).resolve().parents[1] / "data" / "soil_surveys"

# G. Kindermann, J. M. Campagnolo, Aterramento Eletrico; also IEEE Std 81-1983 and later papers (from memory).
K1 = {2.5: 320, 5: 245, 7.5: 182, 10: 162, 12.5: 168, 15: 152}
# Same textbook; made from 1000/200 ohm m, 5 m and 700/180 ohm m, 2.5 m, as the fits to the last digit show.
K2 = {1: 996, 2: 974, 4: 858, 6: 696, 8: 549, 12: 361, 16: 276, 22: 230, 32: 210}
K3 = {1: 684, 2: 611, 4: 415, 6: 294, 8: 237, 16: 189, 32: 182}
# Same textbook, three-layer example (student worksheet at pt.scribd.com/doc/242460244).
P1 = {1: 11938, 2: 15770, 4: 17341, 8: 11058, 16: 5026, 32: 3820}
# J. Mamede Filho, Instalacoes Eletricas Industriais, table of averages.
MAMEDE = {2: 470.222, 4: 467.076, 8: 450.276, 16: 409.148, 32: 397.288}
# TNB Substation Design Manual, table B-3 (fliphtml5.com/knayh/omdt, page 419), resistances of two traverses.
TNB = (
    {1: 21.1, 1.5: 14.43, 2: 10.96, 3: 6.52, 4.5: 4.55, 6: 3.370, 9: 2.480, 13.5: 1.609},
    {1: 20, 1.5: 13.96, 2: 10.07, 3: 7.27, 4.5: 4.59, 6: 3.4, 9: 2.3, 13.5: 1.593},
)


def wenner(rows, *, name="T1", key="apparent_resistivity_ohm_m", index=0, **common) -> Traverse:
    readings = tuple(
        SoilReading(spacing_m=a, path=("soil", "traverses", index, "readings", k), **{key: value}, **common)
        for k, (a, value) in enumerate(rows.items())
    )
    return Traverse(name, ArrayKind.WENNER, readings)


def apparent(rows) -> tuple[ApparentReading, ...]:
    return process_readings([wenner(rows)])[0]


def schlumberger(rows, *, name="S1", index=0) -> Traverse:
    """Rows of (AB/2, MN/2, apparent resistivity)."""
    readings = tuple(
        SoilReading(
            half_current_m=outer,
            half_potential_m=inner,
            apparent_resistivity_ohm_m=rho,
            path=("soil", "traverses", index, "readings", k),
        )
        for k, (outer, inner, rho) in enumerate(rows)
    )
    return Traverse(name, ArrayKind.SCHLUMBERGER, readings)


def field_survey(file: str) -> Traverse:
    """One CSV of the Myanmar soundings: AB/2, MN/2[, K, V in mV, I in mA, V/I], apparent resistivity."""
    with (DATA / file).open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))[1:]
    readings = []
    for k, row in enumerate(rows):
        volts = {"voltage_v": float(row[3]) * 1e-3, "current_a": float(row[4]) * 1e-3} if len(row) > 3 else {}
        readings.append(
            SoilReading(
                half_current_m=float(row[0]),
                half_potential_m=float(row[1]),
                apparent_resistivity_ohm_m=float(row[-1]),
                path=("soil", "traverses", 0, "readings", k),
                **volts,
            )
        )
    return Traverse(file.removesuffix(".csv"), ArrayKind.SCHLUMBERGER, tuple(readings))


@pytest.fixture(scope="session")
def surveys():
    """Namespace of the published surveys and of the helpers that read them."""

    class Surveys:
        k1, k2, k3, p1, mamede, tnb = K1, K2, K3, P1, MAMEDE, TNB

    for function in (wenner, apparent, schlumberger, field_survey):
        setattr(Surveys, function.__name__, staticmethod(function))
    return Surveys
