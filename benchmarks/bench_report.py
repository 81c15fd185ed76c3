"""The report of the demo site, and one of more than a hundred pages, against typesetting an empty page.

Seconds are processor time of this process, so that other work on the machine counts less. The typesetter
keeps what it has set, so each document is set once only, after an empty page has loaded its fonts.
"""

from __future__ import annotations

import io
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from pypdf import PdfReader

from evenground import load_project, run_study
from evenground.deliver._second import draw_all
from evenground.deliver._typeset import _run, compile_pdf
from evenground.deliver.report import report_data, report_pdf

SITE = Path("examples/harrow-lane/site-revised.yaml")
DAY, NEXT = "2026-04-17", "2026-04-18"
TIMES = 4
"""The demo report has some 35 pages; its chapters four times over make more than a hundred."""


def spent(work: Callable[[], object]) -> float:
    """Processor time of one run. [s]"""
    begin = time.process_time()
    work()
    return time.process_time() - begin


def rows() -> Iterator[tuple[str, float, float, str]]:
    """Name, seconds, seconds of the baseline, what the baseline is."""
    study = run_study(load_project(SITE))
    plots = draw_all(study, None)
    _run({"empty.typ": b"first page"}, "empty.typ", format="pdf")
    empty = spent(lambda: _run({"empty.typ": b"empty page"}, "empty.typ", format="pdf"))
    what = "an empty page"
    yield "plots of the demo", spent(lambda: draw_all(study, None)), empty, what
    # the large one first, since the small one is a part of it
    data = report_data(study, made_on=DAY, plots=set(plots))
    large = data | {"chapters": data["chapters"] * TIMES}
    pages: list[bytes] = []
    seconds = spent(lambda: pages.append(compile_pdf(large, plots)[0]))
    count = len(PdfReader(io.BytesIO(pages[0])).pages)
    yield f"report of {count} pages", seconds, empty, what
    yield (
        "report of the demo, another day",
        spent(lambda: report_pdf(study, plots, made_on=NEXT)),
        empty,
        what,
    )
