"""The form of a site test as rows: what the plan prints, and what is read back from it.

One table holds everything; its columns are ``COLUMNS``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

from evenground.errors import Finding, InputError
from evenground.model.sitetest import (
    ContinuityReading,
    CurrentReading,
    FallReading,
    FallSurvey,
    InjectionReadings,
    Phasor,
    PlaceReading,
)

if TYPE_CHECKING:
    from evenground._study_sitetest import SiteTests

__all__ = ["COLUMNS", "Readings", "form_rows", "readings_of_rows"]

COLUMNS = ("test", "item", "what", "unit", "expected", "read", "angle_deg", "note")
Row = tuple[str | float | None, ...]
PATHS = "lines, cables and neutrals connected"
SETUP = ("date", PATHS)


@dataclass(frozen=True)
class Readings:
    """What a filled form holds; a part without any reading is None or empty."""

    date: str
    fall: FallSurvey | None
    injection: InjectionReadings | None
    risers: tuple[ContinuityReading, ...]


def form_rows(tests: SiteTests) -> list[Row]:
    """The form with its expected values; the columns ``read`` and ``angle_deg`` are blank."""
    fall = tests.plan.fall
    rows: list[Row] = [
        ("setup", "date", "as 2026-03-02", "-", None, None, None, ""),
        ("setup", PATHS, "yes or no", "-", None, None, None, ""),
        (
            "setup",
            "distance to the current probe",
            "",
            "m",
            round(fall.current_distance_m, 1),
            None,
            None,
            "",
        ),
        ("setup", "bearing of the current lead", "from x", "deg", fall.current_bearing_deg, None, None, ""),
        (
            "setup",
            "bearing of the potential lead",
            "from x",
            "deg",
            fall.potential_bearing_deg,
            None,
            None,
            "",
        ),
        ("setup", "step of the resistance meter", "", "ohm", 0.001, None, None, ""),
        ("setup", "step of the voltmeter", "", "V", 0.001, None, None, ""),
    ]
    rows += [
        ("fall", round(p.distance_m, 1), "resistance", "ohm", round(p.expected_ohm, 5), None, None, "")
        for p in fall.positions
    ]
    rows += [
        ("injection", "injected current", "", "A", None, None, 0.0, ""),
        ("injection", "remote voltage", "mat to remote earth", "V", None, None, None, ""),
        ("injection", "background voltage", "without injection", "V", None, None, None, ""),
    ]
    rows += [("path", name, "current", "A", None, None, None, "") for name in tests.paths]
    for place in tests.places:
        where = f"x = {place.at_m[0]:.2f} m, y = {place.at_m[1]:.2f} m"
        rows.append(("place", place.name, place.quantity, "V", None, None, None, where))
    rows += [
        ("riser", c.riser, f"from {c.reference}", "mohm", _known(c.expected_mohm), None, None, "")
        for c in tests.continuity
    ]
    return rows


def _known(value: float) -> float | None:
    return round(value, 4) if isfinite(value) else None


class _Table:
    """Rows by test and item, with errors gathered by line."""

    def __init__(self, rows: Sequence[Mapping[str, str]]) -> None:
        self.findings: list[Finding] = []
        self.rows: dict[tuple[str, str, str], tuple[int, Mapping[str, str]]] = {}
        for line, row in enumerate(rows, start=2):
            what = row.get("what", "").strip() if row.get("test", "").strip() == "place" else ""
            key = (row.get("test", "").strip(), row.get("item", "").strip(), what)
            if key in self.rows and row.get("read", "").strip():
                self.error(line, f"'{key[0]}, {key[1]}' stands twice", "keep one line")
            self.rows[key] = (line, row)

    def error(self, line: int, message: str, advice: str = "") -> None:
        self.findings.append(Finding("form", message, advice, line=line))

    def of(self, test: str) -> list[tuple[int, Mapping[str, str]]]:
        return [entry for (kind, _, _), entry in self.rows.items() if kind == test]

    def text(self, test: str, item: str) -> str:
        _, row = self.rows.get((test, item, ""), (0, {}))
        return str(row.get("read", "")).strip()

    def number(self, entry: tuple[int, Mapping[str, str]], column: str = "read") -> float | None:
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
        entry = self.rows.get(("setup", item, ""))
        if entry is None:
            return None
        read = self.number(entry)
        return self.number(entry, "expected") if read is None else read

    def value(self, test: str, item: str) -> float | None:
        entry = self.rows.get((test, item, ""))
        return None if entry is None else self.number(entry)

    def phasor(self, entry: tuple[int, Mapping[str, str]]) -> Phasor | None:
        value = self.number(entry)
        return None if value is None else Phasor(value, self.number(entry, "angle_deg"))


def readings_of_rows(rows: Sequence[Mapping[str, str]], tests: SiteTests) -> Readings:
    """Read a filled form against the plan that it belongs to.

    Raises
    ------
    InputError
        With every wrong cell and its line.
    """
    table = _Table(rows)
    _refuse_strange(table, tests)
    fall = _fall(table, tests)
    injection = _injection(table, tests)
    risers = []
    for entry in table.of("riser"):
        value = table.number(entry)
        if value is not None:
            risers.append(ContinuityReading(entry[1]["item"].strip(), value))
    if table.findings:
        raise InputError(table.findings)
    if fall is None and injection is None and not risers:
        raise InputError([Finding("form-empty", "the column 'read' is empty", "fill in what was measured")])
    return Readings(table.text("setup", "date"), fall, injection, tuple(risers))


def _refuse_strange(table: _Table, tests: SiteTests) -> None:
    known = {"setup", "fall", "injection", "path", "place", "riser"}
    risers = {c.riser for c in tests.continuity}
    for (test, item, _), (line, row) in table.rows.items():
        if test not in known:
            table.error(line, f"unknown test '{test}'", f"one of {', '.join(sorted(known))}")
        elif test == "riser" and item not in risers and row.get("read", "").strip():
            table.error(line, f"riser '{item}' is not in the plan", "add it to the equipment and plan again")


def _connected(table: _Table) -> bool | None:
    word = table.text("setup", PATHS).lower()
    if word in ("", "yes", "no"):
        return {"": None, "yes": True, "no": False}[word]
    table.error(table.rows["setup", PATHS, ""][0], f"'{word}' is neither yes nor no")
    return None


def _fall(table: _Table, tests: SiteTests) -> FallSurvey | None:
    readings = []
    for entry in table.of("fall"):
        value, distance = table.phasor(entry), table.number(entry, "item")
        if value is not None and distance is not None:
            readings.append(FallReading(distance, value, note=entry[1].get("note", "")))
    connected = _connected(table)
    distance = table.setup("distance to the current probe")
    if not readings:
        return None
    if distance is None or distance <= 0:
        table.error(0, "the distance to the current probe is missing or not above 0")
        return None
    return FallSurvey(
        readings=tuple(readings),
        current_distance_m=distance,
        current_bearing_deg=table.setup("bearing of the current lead") or 0.0,
        potential_bearing_deg=table.setup("bearing of the potential lead"),
        resolution_ohm=table.setup("step of the resistance meter") or 0.0,
        season_factor=tests.season_factor,
        season_source=tests.season_source,
        paths_connected=connected,
    )


def _injection(table: _Table, tests: SiteTests) -> InjectionReadings | None:
    total = table.value("injection", "injected current")
    places = []
    for entry in table.of("place"):
        volts = table.phasor(entry)
        if volts is not None:
            places.append(PlaceReading(entry[1]["item"].strip(), entry[1]["what"].strip(), volts))
    if total is None:
        if places:
            table.error(0, "voltages were read, but the injected current is missing")
        return None
    paths = []
    for entry in table.of("path"):
        current = table.phasor(entry)
        if current is not None:
            paths.append(CurrentReading(entry[1]["item"].strip(), current))
        elif _connected(table) is not False:
            item = entry[1]["item"].strip()
            table.error(
                entry[0], f"the current of {item} was not read", "read it, or note that nothing was connected"
            )
    remote = table.rows.get(("injection", "remote voltage", ""))
    return InjectionReadings(
        total_current_a=Phasor(total, 0.0),
        fault_current_a=tests.fault_current_a,
        auxiliary=tuple(paths),
        remote_voltage_v=None if remote is None else table.phasor(remote),
        places=tuple(places),
        resolution_v=table.setup("step of the voltmeter") or 0.0,
        background_v=table.value("injection", "background voltage") or 0.0,
        season_factor=tests.season_factor,
        season_source=tests.season_source,
    )
