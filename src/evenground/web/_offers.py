"""What a text field offers while it is typed in: keys of tables, and names that the file defines."""

from __future__ import annotations

from typing import Any

from evenground.standards.line_wires import LINE_WIRES
from evenground.standards.materials import MATERIALS
from evenground.web._fields import FieldRow

__all__ = ["OPTION_WORDS", "offers"]

OPTION_WORDS = {
    "ieee80": "IEEE Std 80",
    "en50522": "EN 50522",
    "is3043": "IS 3043, BS 7430",
    "cbip_steel": "Indian rule for steel",
    "en50522_2010": "EN 50522:2010",
    "en50522_2022": "EN 50522:2022",
    "hd637_s1": "HD 637 S1",
    "iec60479_derived": "derived from IEC 60479-1",
    "is3043_cbip": "IS 3043 with CBIP",
    "is3043_cbip_1986": "IS 3043 with CBIP, 1986",
    "bs7430_na": "BS EN 50522, national annex",
    "gb50065_effective": "GB/T 50065, effectively earthed",
    "gb50065_resonant": "GB/T 50065, resonant earthed",
    "itc_rat_13": "ITC-RAT 13",
    "en50122": "EN 50122-1",
    "france_1988_dry": "France, 1988, dry",
    "france_1991": "France, 1991",
    "free": "free case (state a person)",
    "iec_2005": "IEC 60479-1:2005",
    "iec_1994": "IEC 60479-1:1994",
    "lv_supply": "low-voltage supply",
    "gis": "gas-insulated switchgear",
    "tt": "TT",
    "tn": "TN",
    "uk": "United Kingdom",
    "usa": "United States",
}
"""Answers whose key is not yet a word."""
_NAMED = {
    "conductor": ("conductors",),
    "far_station": ("network", "stations"),
    "station": ("network", "stations"),
    "fault": ("faults",),
    "fence": ("fences",),
}


def offers(data: Any, row: FieldRow) -> list[str]:
    """Entries to choose from for a text field; an empty list when anything may be written."""
    key = row.key
    if row.kind != "text":
        return []
    if key == "material" and "material table" in row.help:
        return sorted(MATERIALS)
    if key == "type" and "table of line wires" in row.help:
        return sorted(LINE_WIRES)
    if key == "via":
        return [*_names(data, ("network", "lines")), *_names(data, ("network", "cables"))]
    return _names(data, _NAMED[key]) if key in _NAMED else []


def _names(data: Any, path: tuple[str, ...]) -> list[str]:
    for part in path:
        data = data.get(part) if isinstance(data, dict) else None
    if isinstance(data, dict):
        return [str(k) for k in data]
    return [str(e["name"]) for e in data or [] if isinstance(e, dict) and e.get("name")]
