"""What the computing process does: a study, or a folder of result files."""

from __future__ import annotations

import io
import tempfile
import time
import traceback
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from evenground._study_memory import Memory, remembering
from evenground.errors import CancelledError, EvengroundError, InputError
from evenground.project import parse_project, placed
from evenground.web._layers import map_layers

if TYPE_CHECKING:
    from evenground.model.project import Project
    from evenground.schedules import PriceList
    from evenground.web._worker import _Line

__all__ = ["JOBS"]

QUICK_S = 0.25
"""A study that takes less is not preceded by a first look."""
WORTH = 0.7
"""A first look is given only while it takes less than this part of the exact answer's time."""
_seconds: dict[str, float] = {"exact": 1.0, "coarse": 0.0}
_memory = Memory()


def _project(text: str, name: str) -> Project:
    """The project of a text; the files it names are sought beside the file of that (full) name."""
    path = Path(name)
    return parse_project(text, path.name, path.parent if path.is_absolute() else None)


def study(line: _Line, text: str, name: str, coarse: bool = True) -> None:
    """Run a study; a slow one is preceded by a first look. Stages whose input stayed are remembered."""

    def run() -> None:
        project = _project(text, name)
        with remembering(_memory):
            if coarse and _seconds["exact"] > QUICK_S and _seconds["coarse"] < WORTH * _seconds["exact"]:
                _answer(line, project, "coarse")
            _answer(line, project, "exact")

    _told(line, run, text, name)


def _answer(line: _Line, project: Project, kind: str) -> None:
    from evenground.study import run_study, with_site_tests

    start = time.perf_counter()
    result = run_study(project, line.progress, quick=kind == "coarse")
    if kind != "coarse":
        result = with_site_tests(result)
    layers = map_layers(result)
    _seconds[kind] = time.perf_counter() - start
    line.say("coarse" if kind == "coarse" else "done", (result, layers, _seconds[kind]))


def files(line: _Line, text: str, name: str, made_on: str) -> None:
    """Run a study and write its result files; the answer is a zip archive."""

    def run() -> None:
        from evenground.deliver.results import write_results
        from evenground.study import run_study, with_site_tests

        result = with_site_tests(run_study(_project(text, name), line.progress))
        stem = Path(name).stem
        with tempfile.TemporaryDirectory(prefix="evenground-") as folder:
            target = Path(folder) / f"{stem}-results"
            write_results(result, target, made_on=made_on)
            data = io.BytesIO()
            with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
                archive.writestr(f"{stem}-results/{Path(name).name}", text)
                for file in sorted(p for p in target.rglob("*") if p.is_file()):
                    archive.write(file, file.relative_to(folder))
        line.say("files", data.getvalue())

    _told(line, run, text, name)


def help_(line: _Line, text: str, name: str, prices: PriceList) -> None:
    """Run a study and compute what would help; the answer is the study with it."""

    def run() -> None:
        from evenground.mitigation import with_suggestions
        from evenground.study import run_study, with_site_tests

        result = with_site_tests(run_study(_project(text, name), line.progress))
        line.say("done", with_suggestions(result, line.progress, prices=prices))

    _told(line, run, text, name)


def _told(line: _Line, run: Callable[[], None], text: str, name: str) -> None:
    """Run a job and turn its failure into a message, with the lines of the fields it is about."""
    try:
        run()
    except CancelledError:
        line.say("cancelled", None)
    except InputError as error:
        line.say("refused", (tuple(placed(error.findings, text, name)), ""))
    except EvengroundError as error:
        line.say("refused", ((), str(error)))
    except Exception as error:
        trace = traceback.format_exc(limit=-3)
        line.say("refused", ((), f"the program failed: {type(error).__name__}: {error}\n{trace}"))


JOBS: dict[str, Callable[..., None]] = {"study": study, "files": files, "help": help_}
