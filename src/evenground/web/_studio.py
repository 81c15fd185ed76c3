"""What outlives a browser window: the desk, the computing processes, autosave and watching the file."""

from __future__ import annotations

import asyncio
import contextlib
import datetime
from pathlib import Path
from typing import Any

from evenground.errors import InputError
from evenground.project._save import FileState, read_state
from evenground.web._backdrop import Backdrop
from evenground.web._desk import Desk, Outcome
from evenground.web._worker import Worker

__all__ = ["Studio"]

WAIT_S = 0.03
"""Time without a further edit before a computation starts."""


class Studio:
    """One open project with everything that works on it in the background."""

    def __init__(self, path: Path) -> None:
        self.desk = Desk.open(path)
        self.desk.listeners.append(self._heard)
        self.loop: asyncio.AbstractEventLoop | None = None
        self.worker: Worker | None = None
        self.side: Worker | None = None
        self.revisions: dict[int, int] = {}
        self.side_jobs: dict[int, asyncio.Future[Any]] = {}
        self.made: tuple[str, bytes] | None = None
        self.making = False
        self.panel = "Result"
        self.helped: tuple[str, Any] | None = None
        self.helping = False
        self.backdrop: Backdrop | None = None
        self._waiting: asyncio.TimerHandle | None = None
        self._signature: tuple[int, int] | None = None

    async def start(self) -> None:
        """Start the computing process and the first study."""
        self.loop = asyncio.get_running_loop()
        self.worker = await asyncio.to_thread(Worker, self._report)
        self._compute()

    async def stop(self) -> None:
        """End the processes; unsaved work stays as a draft."""
        for worker in (self.worker, self.side):
            if worker is not None:
                await asyncio.to_thread(worker.close)
        await asyncio.to_thread(self.desk.write_draft)

    # study

    def _heard(self, what: str) -> None:
        if what != "text" or self.loop is None:
            return
        if self._waiting is not None:
            self._waiting.cancel()
        self._waiting = self.loop.call_later(WAIT_S, self._compute)

    def _compute(self) -> None:
        self._waiting = None
        if self.worker is None:
            return
        number = self.worker.submit("study", self.desk.text, str(self.desk.path))
        self.revisions = {number: self.desk.revision}
        self.desk.progress = ("starting", 0.0)
        self.desk.tell("progress")

    def cancel(self) -> None:
        """Stop the study that runs."""
        if self.worker is not None:
            self.worker.cancel()
        self.desk.progress = None
        self.desk.tell("progress")

    def recompute(self) -> None:
        """Run the study again."""
        self._compute()

    def _report(self, number: int, word: str, payload: Any) -> None:
        if self.loop is not None:
            with contextlib.suppress(RuntimeError):
                self.loop.call_soon_threadsafe(self._take, number, word, payload)

    def _take(self, number: int, word: str, payload: Any) -> None:
        revision = self.revisions.get(number)
        if word == "progress" and revision == self.desk.revision:
            self.desk.progress = payload
            self.desk.tell("progress")
        elif word in ("coarse", "done") and revision is not None:
            study, layers, seconds = payload
            if word == "done":
                self.desk.progress = None
            self.desk.accept(Outcome(revision, word == "done", study, layers, seconds))
        elif word in ("refused", "lost") and revision is not None:
            self.desk.progress = None
            findings, failure = payload if word == "refused" else ((), payload)
            self.desk.refuse(revision, findings, failure)
        elif word == "cancelled" and revision == self.desk.revision:
            self.desk.progress = None
            self.desk.tell("progress")

    # jobs beside the study: result files, studies of variants

    async def aside(self, kind: str, *payload: Any) -> Any:
        """Run a job in a second process.

        Raises
        ------
        InputError
            When it is refused, with the reason.
        """
        assert self.loop is not None
        if self.side is None:
            self.side = await asyncio.to_thread(Worker, self._report_aside)
        future: asyncio.Future[Any] = self.loop.create_future()
        for number, old in list(self.side_jobs.items()):
            if not old.done():
                old.set_exception(InputError("stopped by a newer request"))
            self.side_jobs.pop(number)
        self.side_jobs[self.side.submit(kind, *payload)] = future
        return await future

    def _report_aside(self, number: int, word: str, payload: Any) -> None:
        if self.loop is not None:
            with contextlib.suppress(RuntimeError):
                self.loop.call_soon_threadsafe(self._take_aside, number, word, payload)

    def _take_aside(self, number: int, word: str, payload: Any) -> None:
        future = self.side_jobs.get(number)
        if word in ("progress", "coarse") or future is None or future.done():
            return
        if word in ("done", "files"):
            future.set_result(payload)
        else:
            findings, failure = payload if word == "refused" else ((), str(payload or "stopped"))
            future.set_exception(InputError(findings) if findings else InputError(failure))
        self.side_jobs.pop(number, None)

    async def result_files(self) -> bytes:
        """All result files as a zip archive."""
        today = datetime.date.today().isoformat()
        data: bytes = await self.aside("files", self.desk.text, str(self.desk.path), today)
        return data

    def stop_making(self) -> None:
        """Stop the job that runs beside the study."""
        if self.side is not None:
            self.side.cancel()
        for number, future in list(self.side_jobs.items()):
            if not future.done():
                future.set_exception(InputError("stopped"))
            self.side_jobs.pop(number, None)

    async def study_of(self, text: str, name: str) -> Any:
        """The study of another text."""
        study, _, _ = await self.aside("study", text, str(self.desk.path.with_name(name)), False)
        return study

    # file

    async def tick(self) -> None:
        """Autosave and look at the file; called again and again."""
        with contextlib.suppress(OSError):
            await asyncio.to_thread(self.desk.write_draft)
        changed, state = await asyncio.to_thread(self._look)
        if changed:
            self.desk.seen(state)

    def _look(self) -> tuple[bool, FileState | None]:
        try:
            stat = self.desk.path.stat()
        except OSError:
            self._signature = None
            return True, None
        signature = (stat.st_mtime_ns, stat.st_size)
        if signature == self._signature:
            return False, None
        try:
            state = read_state(self.desk.path)
        except InputError:
            return False, None
        self._signature = signature
        return True, state
