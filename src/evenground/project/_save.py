"""Saving a project file: in one stroke, with the earlier state kept, and never over a foreign change."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from evenground.errors import EvengroundError, InputError
from evenground.project._source import MAX_BYTES, decode, read_bytes

__all__ = [
    "ChangedOnDiskError",
    "Draft",
    "FileState",
    "drop_draft",
    "earlier_states",
    "keep_text",
    "read_draft",
    "read_state",
    "save_text",
    "write_draft",
]

KEPT = 60
"""Number of earlier states that are kept."""
STALE_LOCK_S = 20.0


class ChangedOnDiskError(EvengroundError):
    """The file is not as it was when it was read; nothing was written."""

    def __init__(self, path: Path, state: FileState | None) -> None:
        self.state = state
        what = "was changed by another program or window" if state else "is no longer there"
        super().__init__(f"{path.name} {what}; nothing was written")


@dataclass(frozen=True, slots=True)
class FileState:
    """Text of a file and the SHA-256 of its bytes."""

    text: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Draft:
    """Unsaved text, and the hash of the file that it grew from."""

    text: str
    base_sha256: str


def digest(text: str) -> str:
    """SHA-256 of the text as it is written to disk."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def read_state(path: Path) -> FileState:
    """Read a project file; errors as :func:`load_project`."""
    data = read_bytes(path)
    return FileState(decode(data, str(path)), hashlib.sha256(data).hexdigest())


def save_text(path: Path, text: str, expected_sha256: str | None) -> FileState:
    """Write a project file in one stroke and keep the earlier state.

    Parameters
    ----------
    path : Path
    text : str
    expected_sha256 : str or None
        Hash of the file as it was last read or written; None when it must not exist yet.

    Raises
    ------
    ChangedOnDiskError
        When the file on disk is another one by now. Nothing is written then.
    InputError
        When the text is too large.
    """
    path = path.resolve()
    data = text.encode("utf-8")
    if len(data) > MAX_BYTES:
        raise InputError(f"{path.name}: larger than {MAX_BYTES // 1_000_000} MB; nothing was written")
    with _locked(path):
        current = path.read_bytes() if path.exists() else None
        found = None if current is None else hashlib.sha256(current).hexdigest()
        if found != expected_sha256:
            state = None if current is None else FileState(decode(current, str(path)), found or "")
            raise ChangedOnDiskError(path, state)
        if current is not None and current != data:
            _keep(path, current, found or "")
        _write(path, data)
    return FileState(text, hashlib.sha256(data).hexdigest())


def earlier_states(path: Path) -> tuple[Path, ...]:
    """Files with earlier states of the project file, newest first."""
    folder = _earlier_folder(path.resolve())
    return tuple(sorted(folder.glob("[0-9]*-*.yaml"), reverse=True)) if folder.is_dir() else ()


def keep_text(path: Path, text: str) -> None:
    """Put a text that is in no file among the earlier states."""
    path = path.resolve()
    with _locked(path):
        _keep(path, text.encode("utf-8"), digest(text))


def write_draft(path: Path, text: str, base_sha256: str) -> None:
    """Keep unsaved text beside the file, so that a crash loses nothing."""
    path = path.resolve()
    _write(_draft_file(path), json.dumps({"base_sha256": base_sha256, "text": text}).encode("utf-8"))


def read_draft(path: Path) -> Draft | None:
    """Unsaved text that an earlier session left behind; None when there is none or it is damaged."""
    file = _draft_file(path.resolve())
    try:
        if file.stat().st_size > 2 * MAX_BYTES:
            return None
        data = json.loads(file.read_text(encoding="utf-8"))
        return Draft(str(data["text"]), str(data["base_sha256"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


def drop_draft(path: Path) -> None:
    """Remove the unsaved text."""
    _draft_file(path.resolve()).unlink(missing_ok=True)


def _draft_file(path: Path) -> Path:
    return path.with_name(f".{path.name}.draft")


def _earlier_folder(path: Path) -> Path:
    return path.with_name(f".{path.name}.earlier")


def _keep(path: Path, data: bytes, sha256: str) -> None:
    folder = _earlier_folder(path)
    folder.mkdir(exist_ok=True)
    files = earlier_states(path)
    number = int(files[0].name.split("-")[0]) + 1 if files else 1
    _write(folder / f"{number:06d}-{sha256[:8]}.yaml", data)
    for file in files[KEPT - 1 :]:
        file.unlink(missing_ok=True)


def _write(file: Path, data: bytes) -> None:
    """Into a neighbour first, then renamed; the permissions of an earlier file stay."""
    mode = file.stat().st_mode & 0o777 if file.exists() else None
    handle, name = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}.", suffix=".part")
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        if mode is not None:
            part.chmod(mode)
        part.replace(file)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


@contextlib.contextmanager
def _locked(path: Path) -> Iterator[None]:
    """One writer at a time; a lock that a killed program left is taken over after a while."""
    lock = path.with_name(f".{path.name}.lock")
    limit = time.monotonic() + 5.0
    while True:
        try:
            os.close(os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
            break
        except FileExistsError:
            with contextlib.suppress(OSError):
                if time.time() - lock.stat().st_mtime > STALE_LOCK_S:
                    lock.unlink(missing_ok=True)
                    continue
            if time.monotonic() > limit:
                raise EvengroundError(
                    f"{path.name}: another program is writing it; nothing was written"
                ) from None
            time.sleep(0.02)
    try:
        yield
    finally:
        lock.unlink(missing_ok=True)
