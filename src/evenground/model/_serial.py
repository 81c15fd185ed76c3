"""A study as plain data and as JSON: same study, same text, to the last character.

Rules: keys in the order of the shapes' fields, numbers in SI as the study holds them, ``null`` for
a number that does not exist, enums as their text, complex numbers as ``[real, imaginary]``. Rasters
and profiles are summarised; their data go to CSV files.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from math import isfinite, isnan
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

import numpy as np

from evenground._caution import CAUTION
from evenground.model._serial_surroundings import surroundings_to_dict

if TYPE_CHECKING:
    from evenground.model.study import Check, DepthSection, Profile, ShockResult, Study, SurfaceMap
    from evenground.provenance import Step

__all__ = ["CAUTION", "FORMAT", "study_to_dict", "study_to_json", "to_plain"]

FORMAT = "evenground-study/1"
"""Name and number of the layout of ``study.json``."""
SPECIAL = ("version", "checks", "map", "profiles", "sections", "steps", "surroundings")
"""Fields of a study that are not written as they stand."""


def to_plain(value: Any) -> Any:
    """Turn shapes, arrays, enums and numbers into what JSON knows.

    NaN becomes None, infinity the text ``"inf"`` or ``"-inf"``, a complex number ``[re, im]``.

    Raises
    ------
    TypeError
        For a kind of object that no shape of a study holds.
    """
    if value is None or isinstance(value, bool | np.bool_):
        return None if value is None else bool(value)
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, str):
        return str(value)
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        return _number(float(value))
    if isinstance(value, complex | np.complexfloating):
        return [_number(float(value.real)), _number(float(value.imag))]
    return _plain_group(value)


def _number(value: float) -> float | str | None:
    if isfinite(value):
        return value
    return None if isnan(value) else ("inf" if value > 0 else "-inf")


def _plain_group(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: to_plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): to_plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray):
        return to_plain(value.tolist())
    if isinstance(value, list | tuple):
        return [to_plain(item) for item in value]
    if isinstance(value, set | frozenset):
        return sorted((to_plain(item) for item in value), key=str)
    raise TypeError(f"{type(value).__name__} has no place in a study")


def study_to_dict(study: Study) -> dict[str, Any]:
    """The whole study as plain data, ready for JSON.

    Returns
    -------
    dict
        ``format``, ``version``, ``input``, ``caution``, ``verdict``, ``governing_check``, then every
        part of the study in the order in which it was computed.
    """
    name = PurePath(study.project.file_name).name  # without the folder: equal on every machine
    head = {
        "format": FORMAT,
        "version": study.version,
        "input": {"file": name, "sha256": study.project.input_hash},
        "caution": CAUTION,
        "verdict": study.verdict.value,
        "governing_check": study.governing_check.identity if _governed(study) else None,
    }
    data: dict[str, Any] = head | {
        f.name: to_plain(getattr(study, f.name)) for f in fields(study) if f.name not in SPECIAL
    }
    data |= {
        "worst_touch": _worst(study, "touch"),
        "worst_step": _worst(study, "step"),
        "checks": [_check(check) for check in study.checks],
        "map": _map(study.map),
        "profiles": [_profile(row) for row in study.profiles],
        "sections": [_section(row) for row in study.sections],
        "surroundings": surroundings_to_dict(study.surroundings, to_plain),
        "steps": [_step(row) for row in study.steps],
    }
    data["project"]["file_name"] = name
    for row in (*data["findings"], *data["project"]["warnings"]):
        row["file"] = PurePath(row["file"]).name
    return data


def study_to_json(study: Study, *, indent: int | None = 2) -> str:
    """The study as JSON text (UTF-8, no NaN), ending without a line break."""
    return json.dumps(study_to_dict(study), indent=indent, ensure_ascii=False, allow_nan=False)


def _governed(study: Study) -> bool:
    return any(check.governing for check in study.checks)


def _worst(study: Study, quantity: str) -> Any:
    rows = [row for row in study.shocks if row.quantity == quantity]
    worst: ShockResult | None = max(rows, key=lambda s: s.value_v / s.limit_v) if rows else None
    return to_plain(worst)


def _check(check: Check) -> dict[str, Any]:
    data: dict[str, Any] = to_plain(check)
    return data | {"margin": to_plain(check.margin)}


def _map(surface: SurfaceMap) -> dict[str, Any]:
    return {
        "scenario": surface.scenario,
        "columns": len(surface.x_m),
        "rows": len(surface.y_m),
        "x_m": _range(surface.x_m),
        "y_m": _range(surface.y_m),
        "potential": _range(surface.potential),
        "touch_utilisation": _range(surface.touch_utilisation),
        "step_utilisation": _range(surface.step_utilisation),
        "data": "surface-map.csv",
    }


def _profile(profile: Profile) -> dict[str, Any]:
    return {
        "name": profile.name,
        "start_m": to_plain(profile.start_m),
        "end_m": to_plain(profile.end_m),
        "points": len(profile.distance_m),
        "potential_v": _range(profile.potential_v),
        "touch_v": _range(profile.touch_v),
        "step_v": _range(profile.step_v),
    }


def _section(section: DepthSection) -> dict[str, Any]:
    return {
        "name": section.name,
        "start_m": to_plain(section.start_m),
        "end_m": to_plain(section.end_m),
        "depth_m": _range(section.depth_m),
        "potential": _range(section.potential),
    }


def _range(values: Any) -> dict[str, float] | None:
    """Smallest and largest finite value; None when there is none."""
    array = np.asarray(values, dtype=float)
    finite = array[np.isfinite(array)]
    return {"min": float(finite.min()), "max": float(finite.max())} if finite.size else None


def _step(step: Step) -> dict[str, Any]:
    """One evaluated formula with what went in and what came out."""
    details = step.info
    return {
        "symbol": details.symbol,
        "name": details.name,
        "label": step.label,
        "value": to_plain(step.value),
        "unit": details.unit,
        "form": details.form,
        "text": details.text,
        "inputs": to_plain(step.inputs),
        "parameters": to_plain(details.symbols),
        "source": details.source,
        "evidence": details.evidence,
        "valid": to_plain(details.valid),
        "outside": to_plain(step.outside),
    }
