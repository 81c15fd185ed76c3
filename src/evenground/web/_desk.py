"""The one project that is open: its text, its history, its result. Knows no browser."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from evenground.errors import Finding, InputError
from evenground.project._edit import Change, Put, edit_text, read_values, unwrapped
from evenground.project._save import (
    ChangedOnDiskError,
    Draft,
    FileState,
    drop_draft,
    keep_text,
    read_draft,
    read_state,
    save_text,
    write_draft,
)
from evenground.web._commands import changes_of, command_words
from evenground.web._view import plan_view

__all__ = ["Desk", "Outcome"]


@dataclass(frozen=True)
class Outcome:
    """A finished computation: what to show, of which revision, and how exact."""

    revision: int
    exact: bool
    study: Any
    layers: dict[str, Any]
    seconds: float


@dataclass
class _Step:
    words: str
    packed: bytes


def _pack(text: str) -> bytes:
    return zlib.compress(text.encode("utf-8"), 1)


def _unpack(data: bytes) -> str:
    return zlib.decompress(data).decode("utf-8")


@dataclass
class Desk:
    """One project file under work, shared by every window that shows it.

    ``revision`` counts every change of the text; ``saved_text`` is what stands on disk as far as
    known. Listeners are called with a word: ``"text"``, ``"result"``, ``"progress"``, ``"file"``.
    """

    path: Path
    state: FileState
    text: str
    revision: int = 0
    undone: list[_Step] = field(default_factory=list)
    done: list[_Step] = field(default_factory=list)
    findings: tuple[Finding, ...] = ()
    failure: str = ""
    outcome: Outcome | None = None
    progress: tuple[str, float] | None = None
    foreign: FileState | None = None
    missing: bool = False
    found_draft: Draft | None = None
    found_kept: bool = False
    drafted: str | None = None
    listeners: list[Callable[[str], None]] = field(default_factory=list)
    _values: tuple[str, Any] | None = None

    @classmethod
    def open(cls, path: Path) -> Desk:
        """Read a project file; unsaved work that an earlier session left is offered, not taken."""
        state = read_state(path)
        read_values(state.text)
        desk = cls(path.resolve(), state, state.text)
        draft = read_draft(path)
        if draft is not None and draft.text != state.text:
            desk.found_draft = draft
        return desk

    # reading

    @property
    def written(self) -> Any:
        """Values as written, origins in place."""
        if self._values is None or self._values[0] != self.text:
            self._values = (self.text, read_values(self.text))
        return self._values[1]

    @property
    def data(self) -> Any:
        """Plain values."""
        return unwrapped(self.written)

    @property
    def view(self) -> dict[str, Any]:
        """The plan with the revision it belongs to."""
        return plan_view(self.data) | {"revision": self.revision}

    @property
    def unsaved(self) -> bool:
        """True when the text differs from the file."""
        return self.text != self.state.text

    @property
    def current(self) -> bool:
        """True when the result shown belongs to the text as it is now."""
        return self.outcome is not None and self.outcome.revision == self.revision

    # changing

    def take(self, text: str, words: str) -> None:
        """Make a text the current one; the former can be brought back."""
        if text == self.text:
            return
        read_values(text)
        self.done.append(_Step(words, _pack(self.text)))
        self.undone.clear()
        self._set(text)

    def apply(self, changes: Iterable[Change], words: str) -> None:
        """Make changes to the text as one step."""
        self.take(edit_text(self.text, changes), words)

    def put(self, path: tuple[str | int, ...], value: Any, words: str = "") -> None:
        """Set one value."""
        self.apply([Put(path, value)], words or f"set {path[-1]}")

    def command(self, command: Any, revision: int | None = None) -> None:
        """Carry out an edit command of the plan.

        Raises
        ------
        InputError
            When it is malformed, does not fit, or was made on an earlier state of the plan.
        """
        if revision is not None and revision != self.revision:
            raise InputError("the plan has changed meanwhile; look at it and try again")
        self.apply(changes_of(self.data, command), command_words(command))

    def undo(self) -> bool:
        """Take back the latest step; False when there is none."""
        return self._shift(self.done, self.undone)

    def redo(self) -> bool:
        """Do again what was taken back; False when there is nothing."""
        return self._shift(self.undone, self.done)

    def _shift(self, source: list[_Step], target: list[_Step]) -> bool:
        if not source:
            return False
        step = source.pop()
        target.append(_Step(step.words, _pack(self.text)))
        self._set(_unpack(step.packed))
        return True

    def _set(self, text: str) -> None:
        self.text = text
        self.revision += 1
        self.tell("text")

    # file

    def save(self) -> None:
        """Write the file; nothing is written when it was changed from outside."""
        try:
            self.state = save_text(self.path, self.text, self.state.sha256)
        except ChangedOnDiskError as error:
            self.foreign, self.missing = error.state, error.state is None
            self.tell("file")
            raise
        self._keep_found()
        drop_draft(self.path)
        self.drafted = None
        self.tell("file")

    def write_draft(self) -> None:
        """Keep unsaved work on disk; does nothing when that was done already."""
        text = self.text
        if text == self.state.text:
            if self.drafted is not None:
                drop_draft(self.path)
                self.drafted = None
        elif text != self.drafted:
            self._keep_found()
            write_draft(self.path, text, self.state.sha256)
            self.drafted = text

    def _keep_found(self) -> None:
        """Put the draft of an earlier session among the earlier states, before newer work takes its place."""
        if self.found_draft is not None and not self.found_kept:
            keep_text(self.path, self.found_draft.text)
            self.found_kept = True

    def seen(self, state: FileState | None) -> None:
        """Take note of the file as it now is on disk (None: not there); never loses own work."""
        if state is None:
            if not self.missing:
                self.missing = True
                self.tell("file")
            return
        if state.sha256 == self.state.sha256:
            if self.missing or self.foreign:
                self.missing, self.foreign = False, None
                self.tell("file")
            return
        if self.foreign is not None and state.sha256 == self.foreign.sha256:
            return
        if state.text == self.text:
            self.state, self.foreign, self.missing = state, None, False
        else:
            self.foreign = state
        self.tell("file")

    def take_foreign(self) -> None:
        """Show the file as it now is on disk; own work stays in the history."""
        if self.foreign is None:
            return
        self.state, self.foreign = self.foreign, None
        self.take(self.state.text, "take the changed file")
        self.tell("file")

    def keep_own(self) -> None:
        """Write over the foreign change; the file as it was found stays among the earlier states."""
        if self.foreign is not None:
            self.state, self.foreign = self.foreign, None
        elif self.missing:
            self.state, self.missing = save_text(self.path, self.text, None), False
        self.save()

    def take_draft(self) -> None:
        """Go on with unsaved work of an earlier session."""
        if self.found_draft is not None:
            text, self.found_draft = self.found_draft.text, None
            self.take(text, "take up unsaved work")
            self.tell("file")

    def leave_draft(self) -> None:
        """Drop unsaved work of an earlier session."""
        self.found_draft = None
        drop_draft(self.path)
        self.drafted = None
        self.tell("file")

    # results

    def accept(self, outcome: Outcome) -> None:
        """Take a result; one of an older revision than shown is passed over."""
        if self.outcome is not None and outcome.revision < self.outcome.revision:
            return
        self.outcome = outcome
        if outcome.revision == self.revision:
            self.findings, self.failure = (), ""
        self.tell("result")

    def refuse(self, revision: int, findings: Iterable[Finding], failure: str = "") -> None:
        """Note why a revision could not be computed."""
        if revision == self.revision:
            self.findings, self.failure = tuple(findings), failure
            self.tell("result")

    def tell(self, what: str) -> None:
        """Call every listener."""
        for listener in tuple(self.listeners):
            listener(what)
