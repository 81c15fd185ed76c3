"""The result folder: study.json, tables, plots and report, all of one study or nothing at all."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Collection, Mapping, Sequence
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evenground.deliver.files import replaced_folder
from evenground.deliver.tables import csv_text, study_tables
from evenground.errors import InputError

if TYPE_CHECKING:
    from evenground.model.study import Study

__all__ = ["FORMATS", "write_results"]

FORMATS = ("json", "csv", "svg", "png", "pdf")
CONTENTS = "contents.csv"
"""List of the files in a result folder, with size and SHA-256."""


def write_results(
    study: Study,
    folder: Path,
    *,
    formats: Collection[str] = FORMATS,
    made_on: str,
    helper: Executor | None = None,
    earlier: Mapping[str, Any] | None = None,
    begun: Sequence[Future[bytes | None]] = (),
) -> list[Path]:
    """Write everything about a study into a folder, which takes the place of an earlier result.

    The files are written into a neighbour folder first; only when all are there the two are
    exchanged. Files in the earlier folder that were not written by the program are kept.

    Parameters
    ----------
    study : Study
    folder : Path
        New, empty, or holding an earlier result.
    formats : collection of str
        Of ``"json"``, ``"csv"``, ``"svg"``, ``"png"``, ``"pdf"``; ``study.json`` and the list of
        contents are always written.
    made_on : str
        Day of issue for the report, ``"2026-04-17"``.
    helper : Executor, optional
        Another process that draws half of the pictures; the files are the same without it.
    earlier : mapping, optional
        Plain data of an earlier study, for the report's chapter on what changed.
    begun : sequence of futures
        Figures that the helper has begun to draw; see :func:`evenground.deliver._second.begin`.

    Returns
    -------
    list of Path
        The files written, in order.

    Raises
    ------
    InputError
        When the folder holds other files and no earlier result; nothing is touched.
    ValueError
        For an unknown format.
    """
    unknown = sorted(set(formats) - set(FORMATS))
    if unknown:
        raise ValueError(f"formats: {', '.join(unknown)} is not one of {', '.join(FORMATS)}")
    folder = folder.absolute()
    if folder.is_dir() and any(folder.iterdir()) and not (folder / "study.json").exists():
        raise InputError(f"{folder}: holds other files and no study.json; give an empty or new folder")
    files = _files(study, formats, made_on, helper, earlier, begun)
    with replaced_folder(folder) as fresh:
        for name, data in files.items():
            target = fresh / name
            target.parent.mkdir(exist_ok=True)
            target.write_bytes(data)
        _keep_foreign(folder, fresh)
    return [folder / name for name in files]


def _files(
    study: Study,
    formats: Collection[str],
    made_on: str,
    helper: Executor | None,
    earlier: Mapping[str, Any] | None,
    begun: Sequence[Future[bytes | None]],
) -> dict[str, bytes]:
    """Name -> bytes of every file, in memory, so that nothing is on disk before all is made."""
    files = {"study.json": (study.to_json() + "\n").encode()}
    if "csv" in formats:
        files |= {name: text.encode() for name, text in study_tables(study).items()}
    files |= _pictures(study, formats, made_on, helper, earlier, begun)
    rows = [[name, len(data), hashlib.sha256(data).hexdigest()] for name, data in files.items()]
    files[CONTENTS] = csv_text(["file", "bytes", "sha256"], rows).encode()
    return files


def _pictures(
    study: Study,
    formats: Collection[str],
    made_on: str,
    helper: Executor | None,
    earlier: Mapping[str, Any] | None,
    begun: Sequence[Future[bytes | None]],
) -> dict[str, bytes]:
    """Plots and report; matplotlib and typst are loaded only when they are asked for."""
    if not {"svg", "png", "pdf"} & set(formats):
        return {}
    from evenground.deliver._second import draw_all
    from evenground.deliver._typeset import pictures_from_svg

    vector = draw_all(study, helper, begun)
    files: dict[str, bytes] = {}
    if "svg" in formats:
        files |= {f"plots/{stem}.svg": data for stem, data in vector.items()}
    # the helper turns the plots into pictures while this process typesets the report
    later = helper.submit(pictures_from_svg, vector) if helper and "png" in formats else None
    report: dict[str, bytes] = {}
    if "pdf" in formats:
        from evenground.deliver.report import report_pdf

        report["report.pdf"] = report_pdf(study, vector, made_on=made_on, earlier=earlier)
    if "png" in formats:
        pictures = later.result() if later else pictures_from_svg(vector)
        files |= {f"plots/{stem}.png": data for stem, data in pictures.items()}
    return files | report


def _keep_foreign(folder: Path, fresh: Path) -> None:
    """Copy what a user put into the earlier result folder."""
    if not folder.is_dir():
        return
    listing = folder / CONTENTS
    own = {CONTENTS, "study.json"}
    if listing.is_file():
        own |= {line.split(",", 1)[0] for line in listing.read_text(encoding="utf-8").splitlines()[1:]}
    for file in sorted(p for p in folder.rglob("*") if p.is_file()):
        name = file.relative_to(folder)
        if name.as_posix() not in own and not (fresh / name).exists():
            (fresh / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(file, fresh / name)
