"""An existing site without drawings: a small file of what was measured, read and checked."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Annotated, Literal

from pydantic import Field

from evenground.errors import InputError, Severity
from evenground.model.sitetest import KnownTests, PlaceResult
from evenground.model.soil import LayeredSoil
from evenground.model.study import Verdict
from evenground.project._explain import validate
from evenground.project._look import Look, number, records, section
from evenground.project._nodes import MapNode, read_tree
from evenground.project._origins import strip_origins
from evenground.project._schema_base import Base, DateText, Positive, Text
from evenground.project._schema_tests import DaySoilFile
from evenground.project._source import Source, decode, read_bytes

__all__ = ["ExistingSite", "load_existing"]

Share = Annotated[float, Field(ge=0, lt=1)]
Count = Annotated[int, Field(ge=0, le=100_000)]


class ReadPlaceFile(Base):
    """A touch voltage read during an injection."""

    name: Text = Field(min_length=1, description="Name of the place.")
    voltage_v: Annotated[float, Field(ge=0, le=1e6)] = Field(description="Open-circuit voltage read. [V]")
    mat_current_a: Positive = Field(description="Current that the mat took meanwhile. [A]")


class ExistingFile(Base):
    """What is known of an existing site from tests alone."""

    evenground_existing: Literal[1] = Field(description="Version of the file format: 1.")
    title: Text = Field(min_length=1, description="Name of the site.")
    date: DateText = Field(default="", description="Day of the tests.")
    resistance_ohm: Positive = Field(description="Resistance of the mat as measured. [ohm]")
    resistance_uncertainty: Share = Field(description="Of it, relative.")
    paths_excluded: bool = Field(
        default=False,
        description="Whether earth wires, sheaths, neutrals and pipes were off or their currents subtracted.",
    )
    fault_current_ka: Positive = Field(
        description="Current that the mat takes in the fault, best value. [kA]"
    )
    fault_current_upper_ka: Positive = Field(description="The largest it can be. [kA]")
    soil: DaySoilFile | None = Field(default=None, description="Soil, where it was read.")
    radius_m: Positive | None = Field(
        default=None, description="Of a circle around all that may be buried. [m]"
    )
    depth_m: Positive | None = Field(default=None, description="Down to where it may be. [m]")
    touch_limit_v: Positive | None = Field(
        default=None, description="Tolerable touch voltage of the worst surface. [V]"
    )
    places: list[ReadPlaceFile] = Field(default_factory=list, description="Touch voltages read.")
    places_random: bool = Field(
        default=False, description="Whether the places were drawn at random from all that people reach."
    )
    reading_uncertainty: Share = Field(default=0.1, description="Of a touch voltage scaled, relative.")
    risers_tested: Count = Field(default=0, description="Risers whose continuity was read.")
    risers_connected: Count = Field(default=0, description="Of these, joined to the mat.")


@dataclass(frozen=True, slots=True)
class ExistingSite:
    """An existing site and what is known of it; ``input_hash`` is that of the file."""

    title: str
    date: str
    known: KnownTests
    file_name: str
    input_hash: str


def load_existing(path: FilePath) -> ExistingSite:
    """Read the file of an existing site.

    Raises
    ------
    InputError
        With every error, each with its line.
    """
    content = read_bytes(path)
    source = Source(decode(content, str(path)), str(path))
    root, findings = read_tree(source)
    if not isinstance(root, MapNode):
        message = "this file is a mapping of fields (evenground_existing, title, resistance_ohm, ...)"
        raise InputError(
            [source.finding("file-not-existing", message, "", line=root.line, column=root.column)]
        )
    stripped = strip_origins(source, root)
    file, wrong = validate(source, stripped.root, ExistingFile, stripped.data)
    look = Look(source, stripped.root, section(stripped.data), stripped.origins)
    look.set_aside(wrong)
    _check(look)
    errors = [
        f for f in (*findings, *stripped.findings, *wrong, *look.findings) if f.severity is Severity.ERROR
    ]
    if errors or file is None:
        raise InputError(sorted(errors, key=lambda f: (f.line, f.column)))
    return ExistingSite(file.title, file.date, _known(file), str(path), hashlib.sha256(content).hexdigest())


def _check(look: Look) -> None:
    """Fields that belong together."""
    data = look.data
    low, high = number(data, "fault_current_ka"), number(data, "fault_current_upper_ka")
    if low is not None and high is not None and high < low:
        message = f"the largest current of {high:g} kA is below the best value of {low:g} kA"
        look.error("existing-current", ("fault_current_upper_ka",), message, "give the larger one")
    tested, joined = number(data, "risers_tested") or 0, number(data, "risers_connected") or 0
    if joined > tested:
        message = f"{joined:g} risers joined of {tested:g} tested"
        look.error("existing-risers", ("risers_connected",), message, "at most as many as were tested")
    layers, depths = (section(data.get("soil")).get(k) for k in ("resistivities_ohm_m", "thicknesses_m"))
    if isinstance(layers, list) and len(depths or []) != len(layers) - 1:
        look.error("existing-soil", ("soil",), "one thickness less than resistivities is needed", "")
    names = [row.get("name") for _, row in records(data.get("places"))]
    for k, name in enumerate(names):
        if name is not None and name in names[:k]:
            look.error("name-twice", ("places", k, "name"), f"'{name}' is the name of two places", "")


def _known(file: ExistingFile) -> KnownTests:
    current, most = 1e3 * file.fault_current_ka, 1e3 * file.fault_current_upper_ka
    spread = file.reading_uncertainty
    rows = []
    for place in file.places:
        best = place.voltage_v * current / place.mat_current_a
        low, high = best * (1 - spread), place.voltage_v * most / place.mat_current_a * (1 + spread)
        rows.append(
            PlaceResult(
                place.name,
                "touch",
                best,
                low,
                high,
                None,
                None,
                Verdict.NOT_DECIDED,
                Verdict.NOT_DECIDED,
                file.touch_limit_v,
            )
        )
    soil = file.soil
    return KnownTests(
        resistance_ohm=file.resistance_ohm,
        resistance_uncertainty=file.resistance_uncertainty,
        fault_current_a=current,
        fault_current_upper_a=most,
        soil=None
        if soil is None
        else LayeredSoil(tuple(soil.resistivities_ohm_m), tuple(soil.thicknesses_m)),
        radius_m=file.radius_m,
        depth_m=file.depth_m,
        places=tuple(rows),
        places_random=file.places_random,
        limit_v=file.touch_limit_v,
        risers_tested=file.risers_tested,
        risers_connected=file.risers_connected,
        paths_excluded=file.paths_excluded,
    )
