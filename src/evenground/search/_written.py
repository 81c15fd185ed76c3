"""A draft as a project file: the file it grew from, changed where the draft differs."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from evenground.electrode import build_electrode
from evenground.errors import EvengroundError
from evenground.model.conductor import ConductorRequest
from evenground.model.project import Project
from evenground.model.site import BackfillLayout, ExtraRun, MatLayout, RodRule
from evenground.project import parse_project
from evenground.project._edit import Change, Drop, Put, edit_text, read_values

__all__ = ["written"]


def written(text: str, drawn: Project, made: Project, remark: str, folder: Path | None = None) -> str:
    """The text of a project file with another metal and cover; comments elsewhere stay.

    Parameters
    ----------
    text : str
        The project file of ``drawn``.
    drawn, made : Project
    remark : str
        Goes to the assumptions.
    folder : Path, optional
        Where files named by the project lie.

    Raises
    ------
    EvengroundError
        When the new file would not say what ``made`` is.
    """
    values = read_values(text)
    if len(values.get("mats") or []) != len(drawn.mats):
        raise EvengroundError(
            "a mat of this project is not in the file but in a drawing; it can not be written"
        )
    changes = [
        *_mats(values, drawn, made),
        *_conductors(drawn, made),
        *_surface(drawn, made),
        *([Put(("runs",), [_run(r) for r in made.runs])] if made.runs != drawn.runs else []),
    ]
    count = len(values.get("assumptions") or [])
    changes.append(Put(("assumptions", count), remark) if count else Put(("assumptions",), [remark]))
    new = edit_text(text, changes)
    _same(parse_project(new, drawn.file_name, folder), made)
    return new


def _mats(values: Any, drawn: Project, made: Project) -> list[Change]:
    changes: list[Change] = []
    for i, (old, new) in enumerate(zip(drawn.mats, made.mats, strict=True)):
        path = ("mats", i)
        if (old.lines_x_m, old.lines_y_m) != (new.lines_x_m, new.lines_y_m):
            stated = values["mats"][i]
            changes += [
                Drop((*path, k))
                for k in ("spacing_m", "spacing_x_m", "spacing_y_m")
                if stated.get(k) is not None
            ]
            changes += _lines(path, new)
        if old.depth_m != new.depth_m:
            changes.append(Put((*path, "depth_m"), new.depth_m))
        if old.rods != new.rods:
            changes.append(Put((*path, "rods"), [_rod(r) for r in new.rods]))
    return changes


def _lines(path: tuple[str, int], mat: MatLayout) -> list[Change]:
    return [
        Put((*path, "lines_x_m"), list(mat.lines_x_m or ())),
        Put((*path, "lines_y_m"), list(mat.lines_y_m or ())),
    ]


def _rod(rule: RodRule) -> dict[str, Any]:
    row: dict[str, Any] = {"where": rule.where, "length_m": rule.length_m, "diameter_mm": rule.diameter_mm}
    row |= {k: v for k in ("spacing_m", "count") if (v := getattr(rule, k)) is not None}
    return row if rule.backfill is None else {**row, "backfill": _backfill(rule.backfill)}


def _backfill(fill: BackfillLayout) -> dict[str, Any]:
    row: dict[str, Any] = {"material": fill.material} if fill.material else {}
    return {**row, "outer_diameter_mm": fill.outer_diameter_mm, "resistivity_ohm_m": fill.resistivity_ohm_m}


def _run(run: ExtraRun) -> dict[str, Any]:
    row: dict[str, Any] = {
        "points_m": [list(p) for p in run.points_m],
        "depth_m": run.depth_m,
        "conductor": run.conductor,
    }
    return row if run.backfill is None else {**row, "backfill": _backfill(run.backfill)}


def _conductors(drawn: Project, made: Project) -> list[Change]:
    return [
        Put(("conductors", key), _conductor(new))
        for key, new in made.conductors.items()
        if new != drawn.conductors[key]
    ]


def _conductor(c: ConductorRequest) -> dict[str, Any]:
    row: dict[str, Any] = {"material": c.material, "method": c.method, "joint": c.joint, "shape": c.shape}
    sizes = ("diameter_mm", "width_mm", "thickness_mm", "area_mm2", "min_area_mm2", "max_temperature_c")
    row |= {k: v for k in (*sizes, "relative_permeability") if (v := getattr(c, k)) is not None}
    row |= {"initial_temperature_c": c.initial_temperature_c, "current_share": c.current_share}
    if c.corrosion_rate_mm_per_year or c.corrosion_area_fraction:
        row["corrosion"] = {
            "rate_mm_per_year": c.corrosion_rate_mm_per_year,
            "life_years": c.life_years,
            "area_percent": 100 * c.corrosion_area_fraction,
        }
    return row


def _surface(drawn: Project, made: Project) -> list[Change]:
    return [
        Put(("surface", i, key), getattr(new, key))
        for i, (old, new) in enumerate(zip(drawn.surface, made.surface, strict=True))
        for key in ("material", "state", "resistivity_ohm_m", "thickness_m")
        if getattr(old, key) != getattr(new, key)
    ]


def _same(read: Project, made: Project) -> None:
    """Refuse a file whose metal, sections or cover are not those of the draft."""

    def metal(p: Project) -> Any:
        radii = dict.fromkeys(p.conductors, 0.005)
        rows = build_electrode(p.mats, p.rods, p.runs, radii).electrode
        return [(_near(c.start_m), _near(c.end_m), c.radius_m, c.embedding) for c in rows]

    def rest(p: Project) -> Any:
        cover = [(z.name, z.material, z.state, z.resistivity_ohm_m, z.thickness_m) for z in p.surface]
        return cover, {k: _conductor(c) for k, c in p.conductors.items()}

    if metal(read) != metal(made) or rest(read) != rest(made):
        raise EvengroundError("the design could not be written as a project file that says the same")


def _near(point: Sequence[float]) -> tuple[float, ...]:
    return tuple(round(v, 6) for v in point)
