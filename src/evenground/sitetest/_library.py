"""Data of field testing: acceptance values, instruments, safety, weather, upkeep intervals, triggers."""

from __future__ import annotations

from evenground.model.sitetest import Instrument, PassValue, UpkeepTask

__all__ = ["INSTRUMENTS", "PASS_VALUES", "SAFETY", "TASKS", "WEATHER", "pass_value"]

_MEMORY = "from memory"
_FOUND = "found"
_PRACTICE = "common practice"

PASS_VALUES: tuple[PassValue, ...] = (
    PassValue(
        "rise-change",
        "change of resistance",
        0.20,
        "-",
        "max",
        "a rise above this since commissioning is investigated",
        "IS 3043, clause on records",
        _FOUND,
    ),
    PassValue(
        "substation-india",
        "mat resistance, substation, India",
        1.0,
        "ohm",
        "max",
        "owner's target, no proof of safety",
        "practice in India",
        _FOUND,
    ),
    PassValue(
        "continuity-good",
        "riser to riser",
        50.0,
        "mohm",
        "max",
        "good; above it to be watched, from 200 poor, above 1000 not connected",
        "DL/T 475",
        _MEMORY,
    ),
    PassValue(
        "continuity-poor", "riser to riser", 200.0, "mohm", "max", "poor above this", "DL/T 475", _MEMORY
    ),
    PassValue(
        "continuity-open",
        "riser to riser",
        1000.0,
        "mohm",
        "max",
        "not connected above this",
        "DL/T 475",
        _MEMORY,
    ),
    PassValue(
        "continuity-uk",
        "riser to riser",
        20.0,
        "mohm",
        "max",
        "a few expected, investigate above this",
        "practice in the United Kingdom, not confirmed",
        _MEMORY,
    ),
    PassValue(
        "point-to-point",
        "riser to riser",
        500.0,
        "mohm",
        "max",
        "acceptance of point-to-point tests",
        "NETA ATS",
        _MEMORY,
    ),
    PassValue(
        "high-current-drop",
        "drop at 300 A over 15 m",
        1.5,
        "V",
        "max",
        "integrity test with high current",
        "practice in the United States",
        _MEMORY,
    ),
    PassValue(
        "joint-ratio",
        "joint over equal length of conductor",
        1.1,
        "-",
        "max",
        "a joint is no worse than the conductor it joins",
        _PRACTICE,
        _MEMORY,
    ),
    PassValue(
        "joint-bolted",
        "bolted joint",
        0.010,
        "mohm",
        "max",
        "order of magnitude of a good one",
        "practice in the United Kingdom, not confirmed",
        _MEMORY,
    ),
    PassValue(
        "band-resistance",
        "measured over predicted resistance",
        0.25,
        "-",
        "max",
        "difference that soil and season explain",
        _PRACTICE,
        _MEMORY,
    ),
    PassValue(
        "band-touch",
        "measured over predicted touch and step voltage",
        0.30,
        "-",
        "max",
        "difference that local soil explains",
        _PRACTICE,
        _MEMORY,
    ),
)
"""Values in use; they contradict each other. Continuity is the weakest point: ask for the client's rule."""


def pass_value(identity: str) -> PassValue:
    """The entry of this name.

    Raises
    ------
    KeyError
        Naming the known ones.
    """
    for row in PASS_VALUES:
        if row.identity == identity:
            return row
    raise KeyError(f"{identity!r}; known: {', '.join(r.identity for r in PASS_VALUES)}")


INSTRUMENTS: tuple[Instrument, ...] = (
    Instrument(
        "four-pole earth tester", "fall of potential, soil", "94 to 128 Hz, probe check", 0.001, "ohm"
    ),
    Instrument(
        "off-frequency injector", "current injection", "2 to 100 A, 40 to 70 Hz, not the mains'", 0.1, "A"
    ),
    Instrument(
        "tuned voltmeter",
        "touch, step, remote voltage",
        "narrow band at the test frequency, with phase",
        0.001,
        "V",
    ),
    Instrument(
        "current clamp or flexible coil",
        "split of the current",
        "with phase against the injected current",
        0.01,
        "A",
    ),
    Instrument("micro-ohmmeter, four wires", "continuity and joints", "10 to 600 A d.c.", 0.0001, "mohm"),
    Instrument(
        "foot plates, two of 200 cm2 each, and wet cloth",
        "touch and step",
        "500 N on each, 1 kohm across and open",
    ),
    Instrument(
        "thickness gauge and soil box",
        "gravel",
        "sample wetted, two-electrode or four-electrode cell",
        10.0,
        "ohm m",
    ),
)
"""Common practice (from memory). Record the calibration of each."""

SAFETY: tuple[str, ...] = (
    "Work under the site's own permit; nobody tests alone.",
    "No test while thunder can be heard or a fault may be switched on.",
    "A remote lead can take the full rise of the mat in a fault: treat leads as live, gloves and mat, "
    "no bare ends.",
    "Before a lead is touched, measure its voltage to local earth; if more than 50 V, stop.",
    "Guard the remote current probe: step voltage around it, keep people and animals off.",
    "Nothing is disconnected from the mat while the station is live.",
    "A clamp-on loop reading is no test of a substation: it reads loops.",
)
WEATHER: tuple[str, ...] = (
    "Note rain of the last seven days, air and soil temperature, frost and its depth.",
    "Read the soil (four probes, the survey's traverse) on the same day, for the comparison.",
    "Touch and step: bare soil and gravel in the state found, then wetted under the feet.",
)

TASKS: tuple[UpkeepTask, ...] = (
    UpkeepTask(
        "visual inspection",
        1.0,
        "risers, joints above ground, gravel, fence and gate bonds, thefts",
        _PRACTICE,
        _MEMORY,
    ),
    UpkeepTask(
        "resistance",
        5.0,
        "fall of potential or injection, season as at commissioning",
        "common practice, 3 to 6 years",
        _MEMORY,
    ),
    UpkeepTask("continuity of risers", 5.0, "every riser against the reference riser", _PRACTICE, _MEMORY),
    UpkeepTask("injection with touch and step", 10.0, "or after a major change", _PRACTICE, _MEMORY),
    UpkeepTask(
        "excavation",
        10.0,
        "sections and joints at three places, sooner in corrosive soil",
        _PRACTICE,
        _MEMORY,
    ),
    UpkeepTask("gravel", 2.0, "thickness and fines, wet resistivity of samples", _PRACTICE, _MEMORY),
    UpkeepTask("chemical electrodes", 4.0, "refill", "practice in India, 3 to 5 years", _FOUND),
)
"""Intervals; the owner's rules take precedence."""
