"""Long computations in a process of their own, with progress and cancel."""

from __future__ import annotations

import contextlib
import multiprocessing
import threading
import time
from collections.abc import Callable
from multiprocessing.connection import Connection
from typing import Any

__all__ = ["Worker"]

PATIENCE_S = 2.0
"""How long a cancelled job may take to notice before its process is ended."""
TELL_EVERY_S = 0.08
ENDINGS = ("done", "refused", "cancelled", "files")


class Worker:
    """One process that carries out the newest job; a newer job cancels the one before.

    ``report`` is called from another thread with (number of the job, word, payload).
    """

    def __init__(self, report: Callable[[int, str, Any], None]) -> None:
        self._context = multiprocessing.get_context("spawn")
        self._report = report
        self._lock = threading.RLock()
        self._number = 0
        self._busy: int | None = None
        self._answered = 0
        self._last: tuple[int, str, tuple[Any, ...]] = (0, "none", ())
        self._closed = False
        self._start()

    def _start(self) -> None:
        self._wanted = self._context.Value("q", self._number)
        self._ours, theirs = self._context.Pipe()
        self._process = self._context.Process(
            target=_work, args=(theirs, self._wanted), daemon=True, name="evenground-worker"
        )
        self._process.start()
        theirs.close()
        threading.Thread(target=self._listen, args=(self._ours, self._process), daemon=True).start()

    def _listen(self, ours: Connection, process: Any) -> None:
        while True:
            try:
                number, word, payload = ours.recv()
            except (EOFError, OSError):
                break
            with self._lock:
                if word in ENDINGS:
                    self._answered = max(self._answered, number)
                    if self._busy == number:
                        self._busy = None
                stale = number != self._number and word != "files"
            if not stale:
                self._report(number, word, payload)
        with self._lock:
            lost = self._busy if process is self._process and not self._closed else None
            if lost is not None:
                self._busy = None
                self._start()
        if lost is not None and lost == self._number:
            self._report(lost, "lost", "the computation ended unexpectedly (out of memory?)")

    def submit(self, kind: str, *payload: Any) -> int:
        """Start a job; returns its number. A job that still runs is cancelled first."""
        with self._lock:
            waiting = self._busy
            self._number += 1
            number = self._number
            self._wanted.value = number
            if waiting is not None:
                threading.Thread(target=self._insist, args=(waiting, number), daemon=True).start()
            self._busy = number
            with contextlib.suppress(OSError):
                self._ours.send((number, kind, payload))
            self._last = (number, kind, payload)
        return number

    def cancel(self) -> None:
        """Stop the job that runs."""
        with self._lock:
            waiting = self._busy
            if waiting is None:
                return
            self._number += 1
            self._wanted.value = self._number
            self._last = (self._number, "none", ())
        self._report(self._number, "cancelled", None)
        threading.Thread(target=self._insist, args=(waiting, self._number), daemon=True).start()

    def _insist(self, old: int, number: int) -> None:
        """End the process when the old job does not give way, and hand the newest job to a new one."""
        process = self._process
        limit = time.monotonic() + PATIENCE_S
        while time.monotonic() < limit:
            time.sleep(0.05)
            with self._lock:
                if self._given_way(old) or process is not self._process or self._closed:
                    return
        with self._lock:
            if process is not self._process or self._given_way(old) or self._number != number:
                return
            self._busy = None
            process.kill()
            self._start()
            number, kind, payload = self._last
            if kind != "none":
                self._busy = number
                self._ours.send((number, kind, payload))

    def _given_way(self, old: int) -> bool:
        return self._answered >= old

    def close(self) -> None:
        """End the process."""
        with self._lock:
            self._closed = True
        self._process.kill()
        self._process.join(2)


def _work(pipe: Connection, wanted: Any) -> None:
    """Main loop of the process; ends when the other side of the pipe is gone."""
    from evenground.web._jobs import JOBS

    while True:
        try:
            number, kind, payload = pipe.recv()
        except (EOFError, OSError, KeyboardInterrupt):
            return
        if number != wanted.value:
            pipe.send((number, "cancelled", None))
            continue
        JOBS[kind](_Line(pipe, wanted, number), *payload)


class _Line:
    """What a job may say, and whether it should stop."""

    def __init__(self, pipe: Connection, wanted: Any, number: int) -> None:
        self.pipe, self.wanted, self.number = pipe, wanted, number
        self._told = 0.0

    def say(self, word: str, payload: Any) -> None:
        """Send a message."""
        self.pipe.send((self.number, word, payload))

    def progress(self, text: str, fraction: float) -> None:
        """Say how far the job is; raises CancelledError when it should stop."""
        from evenground.errors import CancelledError

        if self.wanted.value != self.number:
            raise CancelledError("stopped")
        now = time.monotonic()
        if now - self._told > TELL_EVERY_S:
            self._told = now
            self.say("progress", (text, fraction))
