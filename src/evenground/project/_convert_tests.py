"""The sections ``tests`` and ``upkeep`` as frozen shapes; filled forms are read here."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Sequence
from dataclasses import replace
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

from evenground.errors import Finding, InputError
from evenground.model.project import RegisteredInput
from evenground.model.site_test import (
    FallTest,
    InjectionTest,
    JointReading,
    SectionReading,
    SiteTest,
    TestPlace,
    UpkeepPlan,
)
from evenground.model.sitetest import (
    ContinuityReading,
    CurrentReading,
    FallReading,
    GravelReading,
    Phasor,
)
from evenground.model.soil import LayeredSoil
from evenground.project._readings_table import read_table_bytes
from evenground.project._tests_form import rows_of_form, site_test_of_rows

if TYPE_CHECKING:
    from hashlib import _Hash as Hash

    from evenground.project._explain import Path
    from evenground.project._schema import ConductorFile
    from evenground.project._schema_tests import FallFile, InjectionFile, SiteTestFile, UpkeepFile

__all__ = ["read_site_tests", "to_upkeep"]


def read_site_tests(
    files: Sequence[SiteTestFile],
    folder: FilePath | None,
    digest: Hash,
    tags: Collection[str] | None,
) -> tuple[tuple[SiteTest, ...], tuple[RegisteredInput, ...]]:
    """Every test in the order of its date, with rows of the register for forms that were read.

    The bytes of a form go into ``digest``, which tells one input from another; ``tags`` are those of the
    equipment, None: not stated.

    Raises
    ------
    InputError
        For a form that is missing or wrong; cells with line and file, else the place in the project file.
    """
    tests: list[SiteTest] = []
    register: list[RegisteredInput] = []
    findings: list[Finding] = []
    for index, file in enumerate(files):
        path: Path = ("tests", index)
        test = _test(file, path)
        if file.form is not None:
            try:
                content = _form(file.form, folder, (*path, "form"))
                test = _with_form(test, content, file.form, (*path, "form"), tags)
                digest.update(content)
                value = f"filled form, SHA-256 {hashlib.sha256(content).hexdigest()[:12]}"
                register.append(RegisteredInput((*path, "form", file.form), value, None))
            except InputError as error:
                findings += error.findings
        tests.append(test)
    if findings:
        raise InputError(findings)
    return tuple(sorted(tests, key=lambda t: t.year)), tuple(register)


def _form(name: str, folder: FilePath | None, path: Path) -> bytes:
    if folder is None:
        message = "form needs the folder of the project file"
        raise InputError([Finding("form-folder", message, "save the project first", path=path)])
    return read_table_bytes(folder / name, path)


def _with_form(
    test: SiteTest, content: bytes, name: str, path: Path, tags: Collection[str] | None
) -> SiteTest:
    """The parts of the form and what stands beside it; the project file wins where it says something."""
    try:
        rows = rows_of_form(content, name)
        read = site_test_of_rows(rows, name=test.name, date=test.date, file=name, tags=tags)
    except InputError as error:
        raise InputError([f if f.line else replace(f, path=path) for f in error.findings]) from error
    connected = read.connected if test.connected is None else test.connected
    return replace(
        test,
        connected=connected,
        fall=read.fall,
        injection=read.injection,
        risers=read.risers,
        riser_resolution_mohm=read.riser_resolution_mohm,
        joints=(*read.joints, *test.joints),
        gravel=(*read.gravel, *test.gravel),
    )


def _test(file: SiteTestFile, path: Path) -> SiteTest:
    risers = file.continuity
    soil = file.soil
    notes = [n for n in (file.note, f"instruments: {file.instruments}" if file.instruments else "") if n]
    return SiteTest(
        name=file.name,
        date=file.date,
        by=file.by,
        weather=file.weather,
        note="; ".join(notes),
        connected=file.connected,
        soil=None
        if soil is None
        else LayeredSoil(tuple(soil.resistivities_ohm_m), tuple(soil.thicknesses_m)),
        fall=None if file.fall_of_potential is None else _fall(file.fall_of_potential),
        injection=None if file.injection is None else _injection(file.injection),
        risers=()
        if risers is None
        else tuple(ContinuityReading(r.riser, r.resistance_mohm, r.test_current_a) for r in risers.readings),
        riser_reference="" if risers is None else risers.reference,
        riser_resolution_mohm=0.001 if risers is None else risers.resolution_mohm,
        joints=tuple(
            JointReading(j.name, j.joint_mohm, j.conductor_mohm, _pair(j.at_m)) for j in file.joints
        ),
        gravel=tuple(
            GravelReading(g.place, g.thickness_m, g.wet_resistivity_ohm_m, g.fouled) for g in file.gravel
        ),
        sections=tuple(SectionReading(s.place, s.conductor, s.thickness_mm) for s in file.buried_metal),
        path=path,
    )


def _pair(place: Sequence[float] | None) -> tuple[float, float] | None:
    return None if place is None else (place[0], place[1])


def _fall(file: FallFile) -> FallTest:
    return FallTest(
        readings=tuple(
            FallReading(r.distance_m, Phasor(r.resistance_ohm, r.angle_deg), note=r.note)
            for r in file.readings
        ),
        current_distance_m=file.current_distance_m,
        current_bearing_deg=file.current_bearing_deg,
        potential_bearing_deg=file.potential_bearing_deg,
        resolution_ohm=file.resolution_ohm,
        uncertainty=file.uncertainty,
        lead_spacing_m=file.lead_spacing_m,
        frequency_hz=file.frequency_hz,
    )


def _injection(file: InjectionFile) -> InjectionTest:
    remote = file.remote_voltage_v
    return InjectionTest(
        current_a=file.current_a,
        paths=tuple(CurrentReading(p.name, Phasor(p.current_a, p.angle_deg)) for p in file.paths),
        remote_voltage_v=None if remote is None else Phasor(remote, file.remote_angle_deg),
        places=tuple(
            TestPlace(
                p.name,
                p.quantity,
                Phasor(p.voltage_v, p.angle_deg),
                _pair(p.at_m),
                p.direction_deg,
                p.loaded_v,
            )
            for p in file.places
        ),
        background_v=file.background_v,
        resolution_v=file.resolution_v,
        uncertainty=file.uncertainty,
        lead_spacing_m=file.lead_spacing_m,
        lead_length_m=file.lead_length_m,
        frequency_hz=file.frequency_hz,
    )


def to_upkeep(file: UpkeepFile | None, conductors: dict[str, ConductorFile]) -> UpkeepPlan | None:
    """Upkeep in SI units; None when the file has no such section."""
    if file is None:
        return None
    stated = [c.corrosion.life_years for c in conductors.values() if c.corrosion.life_years > 0]
    now = file.now
    return UpkeepPlan(
        as_of=_day(file.as_of),
        in_service=_day(file.in_service),
        life_years=file.life_years or max(stated, default=0.0),
        intervals_years=dict(file.intervals_years),
        done={k: _day(v) for k, v in file.done.items()},
        fault=None if now is None else now.fault,
        fault_current_a=None if now is None or now.current_ka is None else 1e3 * now.current_ka,
        clearing_time_s=None if now is None else now.shock_time_s,
        changed=tuple((c.what, c.note) for c in file.changed),
    )


def _day(text: str) -> str:
    """A whole date; a month or year counts from its first day."""
    return text + "-01" * (2 - text.count("-"))
