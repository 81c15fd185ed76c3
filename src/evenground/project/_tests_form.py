"""The filled form of a site test, read row by row; every wrong cell is named with its line."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Mapping, Sequence
from math import isfinite

from evenground.errors import Finding, InputError
from evenground.model.site_test import FallTest, InjectionTest, JointReading, SiteTest, TestPlace
from evenground.model.sitetest import (
    ContinuityReading,
    CurrentReading,
    FallReading,
    GravelReading,
    Phasor,
)

__all__ = ["COLUMNS", "LOADED", "SETUP", "rows_of_form", "site_test_of_rows"]

COLUMNS = (
    "test",
    "item",
    "what",
    "unit",
    "expected",
    "read",
    "angle_deg",
    "x_m",
    "y_m",
    "direction_deg",
    "note",
)
NEEDED = COLUMNS[:6]
SETUP = {
    "date": "date",
    "paths": "lines, cables and neutrals connected",
    "current_distance": "distance to the current probe",
    "current_bearing": "bearing of the current lead",
    "potential_bearing": "bearing of the potential lead",
    "step_ohm": "step of the resistance meter",
    "spacing": "distance between leads side by side",
    "meter_hz": "frequency of the resistance meter",
    "step_v": "step of the voltmeter",
    "injection_hz": "frequency of the injection",
    "remote_spacing": "distance of the remote lead from the current lead",
    "remote_length": "length of the remote lead beside the current lead",
    "step_mohm": "step of the micro-ohmmeter",
    "doubt_ohm": "uncertainty of a resistance reading",
    "doubt_v": "uncertainty of a voltage or current",
}
"""Items of the set-up by what they mean."""
KNOWN = ("setup", "fall", "injection", "path", "place", "riser", "joint", "gravel")
LOADED = " with 1 kohm across"
"""Added to touch or step for the loaded reading."""
MAX_ROWS = 20_000
THICKEST_M = 2.0
"""More cover than this is a thickness in the wrong unit. [m]"""


def rows_of_form(data: bytes, name: str) -> list[dict[str, str]]:
    """Rows of a filled form.

    Raises
    ------
    InputError
        When it is no CSV in UTF-8, or lacks a column.
    """
    try:
        reader = csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline=""))
        missing = [c for c in NEEDED if c not in (reader.fieldnames or ())]
        if missing:
            message = f"{name}: the columns {', '.join(missing)} are missing"
            advice = "write the form with testplan; commas between the cells"
            raise InputError([Finding("form-columns", message, advice)])
        rows = [{str(k): v or "" for k, v in row.items() if k is not None} for row in reader]
    except (UnicodeDecodeError, csv.Error) as error:
        raise InputError([Finding("form-text", f"{name}: is not a CSV file in UTF-8 ({error})")]) from error
    if len(rows) > MAX_ROWS:
        raise InputError([Finding("form-long", f"{name}: more than {MAX_ROWS} rows")])
    return rows


Entry = tuple[int, Mapping[str, str]]


class _Table:
    """Rows by test, item and what, with errors gathered by line."""

    def __init__(self, rows: Sequence[Mapping[str, str]], file: str) -> None:
        self.findings: list[Finding] = []
        self.file = file
        self.rows: dict[tuple[str, str, str], Entry] = {}
        for line, row in enumerate(rows, start=2):
            test = row.get("test", "").strip()
            what = row.get("what", "").strip() if test in ("place", "joint", "gravel") else ""
            key = (test, row.get("item", "").strip(), what)
            if not any(row.get(c, "").strip() for c in NEEDED):
                continue
            if test not in KNOWN:
                self.error(line, f"unknown test '{test}'", f"one of {', '.join(KNOWN)}")
            if key in self.rows and row.get("read", "").strip():
                if self.rows[key][1].get("read", "").strip():
                    self.error(line, f"'{key[0]}, {key[1]}' stands twice", "keep one line")
                self.rows[key] = (line, row)
            self.rows.setdefault(key, (line, row))

    def error(self, line: int, message: str, advice: str = "") -> None:
        self.findings.append(Finding("form", message, advice, file=self.file, line=line))

    def of(self, test: str) -> list[Entry]:
        return [entry for (kind, _, _), entry in self.rows.items() if kind == test]

    def text(self, item: str) -> str:
        _, row = self.rows.get(("setup", SETUP[item], ""), (0, {}))
        return str(row.get("read", "")).strip()

    def number(self, entry: Entry, column: str = "read") -> float | None:
        line, row = entry
        text = row.get(column, "").strip()
        if not text:
            return None
        try:
            value = float(text)
        except ValueError:
            self.error(line, f"{column}: '{text}' is not a number", "write a decimal point and no unit")
            return None
        if not isfinite(value):
            self.error(line, f"{column}: {text} is not a finite number")
            return None
        return value

    def setup(self, item: str) -> float | None:
        """A value of the set-up: as read, else as planned."""
        entry = self.rows.get(("setup", SETUP[item], ""))
        if entry is None:
            return None
        read = self.number(entry)
        return self.number(entry, "expected") if read is None else read

    def above_zero(self, item: str, default: float | None) -> float | None:
        value = self.setup(item)
        if value is not None and value <= 0:
            self.error(self.rows["setup", SETUP[item], ""][0], f"{SETUP[item]}: {value:g} is not above 0")
            return default
        return default if value is None else value

    def share(self, item: str, default: float) -> float:
        """A percentage above 0 and below 100, as a share."""
        value = self.setup(item)
        if value is not None and not 0 < value < 100:
            line = self.rows["setup", SETUP[item], ""][0]
            self.error(line, f"{SETUP[item]}: {value:g} % is not above 0 and below 100")
            return default
        return default if value is None else value / 100.0

    def value(self, test: str, item: str, what: str = "") -> float | None:
        entry = self.rows.get((test, item, what))
        return None if entry is None else self.number(entry)

    def phasor(self, entry: Entry) -> Phasor | None:
        value = self.number(entry)
        return None if value is None else Phasor(value, self.number(entry, "angle_deg"))


def site_test_of_rows(
    rows: Sequence[Mapping[str, str]],
    *,
    name: str = "form",
    date: str = "",
    file: str = "",
    tags: Collection[str] | None = None,
) -> SiteTest:
    """One site test from the rows of a filled form.

    ``name``, ``date`` and ``file`` are those of the test and of the form, for messages and papers; ``tags``
    are the risers that there are, None: not looked at.

    Raises
    ------
    InputError
        With every wrong cell and its line, or when nothing was filled in.
    """
    table = _Table(rows, file)
    test = SiteTest(
        name=name,
        date=_date(table, date),
        connected=_connected(table),
        fall=_fall(table),
        injection=_injection(table),
        risers=_risers(table, tags),
        riser_resolution_mohm=table.above_zero("step_mohm", 0.001) or 0.001,
        joints=_joints(table),
        gravel=_gravel(table),
    )
    if table.findings:
        raise InputError(table.findings)
    if not (test.fall or test.injection or test.risers or test.joints or test.gravel):
        message = "the column 'read' is empty"
        raise InputError([Finding("form-empty", message, "fill in what was measured", file=file)])
    return test


def _date(table: _Table, stated: str) -> str:
    from datetime import date

    written = table.text("date")
    line = table.rows.get(("setup", SETUP["date"], ""), (0, {}))[0]
    if written:
        try:
            date.fromisoformat(written)
        except ValueError:
            table.error(line, f"'{written}' is not a date like 2026-03-02")
            return stated
        if stated and written != stated:
            table.error(line, f"the form is of {written}, the project file says {stated}", "keep one date")
    return stated or written


def _connected(table: _Table) -> bool | None:
    word = table.text("paths").lower()
    if word in ("", "yes", "no"):
        return {"": None, "yes": True, "no": False}[word]
    table.error(table.rows["setup", SETUP["paths"], ""][0], f"'{word}' is neither yes nor no")
    return None


def _fall(table: _Table) -> FallTest | None:
    readings = []
    for entry in table.of("fall"):
        value, distance = table.phasor(entry), table.number(entry, "item")
        if value is not None and distance is not None:
            readings.append(FallReading(distance, value, note=entry[1].get("note", "")))
    distance = table.above_zero("current_distance", None)
    if not readings:
        return None
    if distance is None:
        table.error(table.of("fall")[0][0], "the distance to the current probe is missing")
        return None
    return FallTest(
        readings=tuple(readings),
        current_distance_m=distance,
        current_bearing_deg=table.setup("current_bearing") or 0.0,
        potential_bearing_deg=table.setup("potential_bearing"),
        resolution_ohm=table.above_zero("step_ohm", 0.001) or 0.001,
        uncertainty=table.share("doubt_ohm", 0.05),
        lead_spacing_m=table.above_zero("spacing", None),
        frequency_hz=table.above_zero("meter_hz", None),
    )


def _injection(table: _Table) -> InjectionTest | None:
    total = table.value("injection", "injected current")
    places = _places(table)
    if total is None:
        if places:
            line = table.of("place")[0][0]
            table.error(line, "voltages were read, but the injected current is missing")
        return None
    if total <= 0:
        table.error(table.rows["injection", "injected current", ""][0], f"{total:g} A was injected")
        return None
    paths = []
    for entry in table.of("path"):
        current, item = table.phasor(entry), entry[1]["item"].strip()
        if current is not None:
            paths.append(CurrentReading(item, current))
        elif table.text("paths").lower() != "no":
            advice = "read it, or note that nothing was connected"
            table.error(entry[0], f"the current of {item} was not read", advice)
    remote = table.rows.get(("injection", "remote voltage", ""))
    background = table.value("injection", "background voltage") or 0.0
    if background < 0:
        table.error(table.rows["injection", "background voltage", ""][0], "a background below 0 V")
    return InjectionTest(
        current_a=total,
        paths=tuple(paths),
        remote_voltage_v=None if remote is None else table.phasor(remote),
        places=places,
        background_v=max(background, 0.0),
        resolution_v=table.above_zero("step_v", 0.001) or 0.001,
        uncertainty=table.share("doubt_v", 0.1),
        lead_spacing_m=table.above_zero("remote_spacing", None),
        lead_length_m=table.above_zero("remote_length", None),
        frequency_hz=table.above_zero("injection_hz", None),
    )


def _places(table: _Table) -> tuple[TestPlace, ...]:
    rows = []
    for entry in table.of("place"):
        line, row = entry
        name, what = row["item"].strip(), row["what"].strip()
        if what.endswith(LOADED):
            continue
        volts = table.phasor(entry)
        if volts is None:
            continue
        if what not in ("touch", "step"):
            table.error(line, f"'{what}' is neither touch nor step")
            continue
        x, y = table.number(entry, "x_m"), table.number(entry, "y_m")
        if (x is None) != (y is None):
            table.error(line, "x_m and y_m belong together", "give both or none")
        at = None if x is None or y is None else (x, y)
        loaded = table.value("place", name, f"{what}{LOADED}")
        rows.append(TestPlace(name, what, volts, at, table.number(entry, "direction_deg"), loaded))
    return tuple(rows)


def _risers(table: _Table, tags: Collection[str] | None) -> tuple[ContinuityReading, ...]:
    rows = []
    for entry in table.of("riser"):
        value, tag = table.number(entry), entry[1]["item"].strip()
        if value is not None and tags is not None and tag not in tags:
            table.error(entry[0], f"riser '{tag}' is no tag under equipment", "add it and plan again")
        if value is not None:
            rows.append(ContinuityReading(entry[1]["item"].strip(), value))
    return tuple(rows)


def _joints(table: _Table) -> tuple[JointReading, ...]:
    rows = []
    for name in dict.fromkeys(row["item"].strip() for _, row in table.of("joint")):
        joint, plain = (table.value("joint", name, w) for w in ("joint", "conductor"))
        if (joint is None) != (plain is None):
            line = next(n for n, row in table.of("joint") if row["item"].strip() == name)
            table.error(line, f"joint '{name}': joint and conductor belong together", "read both")
        elif joint is not None and plain is not None:
            rows.append(JointReading(name, joint, plain))
    return tuple(rows)


def _gravel(table: _Table) -> tuple[GravelReading, ...]:
    rows = []
    for place in dict.fromkeys(row["item"].strip() for _, row in table.of("gravel")):
        thick = table.value("gravel", place, "thickness")
        wet = table.value("gravel", place, "wet resistivity")
        line = next(n for n, row in table.of("gravel") if row["item"].strip() == place)
        if thick is None and wet is not None:
            table.error(line, f"gravel '{place}': the thickness is missing")
        elif thick is not None:
            if thick < 0 or (wet is not None and wet <= 0):
                table.error(line, f"gravel '{place}': thickness and resistivity can not be negative")
            if thick > THICKEST_M:
                table.error(line, f"gravel '{place}': {thick:g} m of cover", "write metres, as 0.1")
            rows.append(GravelReading(place, thick, wet))
    return tuple(rows)
