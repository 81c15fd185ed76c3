"""The section ``as_built``: its checks, and its frozen shape."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

from evenground.errors import Finding, InputError
from evenground.model.as_built import AsBuilt
from evenground.project._convert import _rods, _run
from evenground.project._drawn import read_site_drawing, with_drawing
from evenground.project._explain import Path
from evenground.project._look import Look, records, section, words
from evenground.project._words import shorten

if TYPE_CHECKING:
    from hashlib import _Hash as Hash

    from evenground.model.project import Project
    from evenground.model.site import Point2
    from evenground.project._schema import ProjectFile

__all__ = ["check_as_built", "with_as_built"]

_CHANGES = ("not_laid", "rods_not_driven_m", "mat_depths_m", "mats_left_out", "runs", "rods")


def check_as_built(look: Look) -> None:
    """Known mats and conductors, stretches with a length, and a drawing or changes."""
    data = section(look.data.get("as_built"))
    if not data:
        return
    mats = [words(m, "name") for _, m in records(look.data.get("mats"))]
    kinds = section(look.data.get("conductors"))
    gone = data.get("mats_left_out")
    named: list[tuple[Path, str]] = [
        (("as_built", "mat_depths_m", str(k)), str(k)) for k in section(data.get("mat_depths_m"))
    ]
    for i, name in enumerate(gone if isinstance(gone, list) else []):
        named.append((("as_built", "mats_left_out", i), str(name)))
    for path, name in named if look.data.get("site_drawing") is None else []:
        if name not in mats:
            known = ", ".join(m for m in mats if m) or "none"
            look.error("as-built-mat", path, f"'{shorten(name)}' is no mat of the design", f"known: {known}")
    for i, row in records(data.get("not_laid")):
        if row.get("from_m") is not None and row.get("from_m") == row.get("to_m"):
            place = ("as_built", "not_laid", i, "to_m")
            look.error("as-built-length", place, "a stretch without length", "give two places")
    for i, row in records(data.get("runs")):
        key = words(row, "conductor")
        if key is not None and key not in kinds:
            place = ("as_built", "runs", i, "conductor")
            look.error("as-built-conductor", place, f"'{shorten(key)}' is no key under conductors", "")
    changed = [k for k in _CHANGES if data.get(k)]
    if data.get("drawing") is not None and changed:
        message = f"{changed[0]} stands beside a drawing, which holds all metal"
        look.error("as-built-twice", ("as_built", changed[0]), message, "keep one of the two")
    if data.get("drawing") is None and not changed:
        message = "nothing differs from the design"
        look.error(
            "as-built-empty", ("as_built",), message, f"give one of {', '.join(_CHANGES)}, or a drawing"
        )


def with_as_built(project: Project, file: ProjectFile, folder: FilePath | None, digest: Hash) -> Project:
    """The project with its as-built state; the bytes of a drawing go into ``digest``.

    Raises
    ------
    InputError
        When the drawing can not be read, with its place under ``as_built``.
    """
    built = file.as_built
    if built is None:
        return project
    state = AsBuilt(
        date=built.date,
        by=built.by,
        note=built.note,
        not_laid_m=tuple((_pair(s.from_m), _pair(s.to_m)) for s in built.not_laid),
        no_rods_m=tuple(_pair(p) for p in built.rods_not_driven_m),
        depths_m=tuple(built.mat_depths_m.items()),
        left_out=tuple(built.mats_left_out),
        runs=tuple(_run(r, ("as_built", "runs", i)) for i, r in enumerate(built.runs)),
        rods=tuple(_rods(r, ("as_built", "rods", i)) for i, r in enumerate(built.rods)),
    )
    if built.drawing is None:
        return replace(project, as_built=state)
    try:
        drawn = read_site_drawing(file.model_copy(update={"site_drawing": built.drawing}), folder)
        assert drawn is not None
        digest.update(bytes.fromhex(drawn.contents.sha256))
        metal = with_drawing(replace(project, mats=(), runs=(), rods=()), drawn)
    except InputError as error:
        raise InputError([replace(f, path=_moved(f)) for f in error.findings]) from error
    if not (metal.mats or metal.runs or metal.rods):
        message = f"{built.drawing.file}: no conductor, rod or outline was taken from it"
        place = ("as_built", "drawing", "layers")
        raise InputError([Finding("as-built-drawing", message, "map its layers", path=place)])
    return replace(project, as_built=replace(state, drawn=(metal.mats, metal.runs, metal.rods)))


def _moved(finding: Finding) -> tuple[str | int, ...]:
    """Path under ``site_drawing`` as one under ``as_built``."""
    return ("as_built", "drawing", *finding.path[1:])


def _pair(place: Sequence[float]) -> Point2:
    return place[0], place[1]
