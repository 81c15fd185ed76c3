"""The bytes of a project file: reading, decoding and lines for messages."""

from __future__ import annotations

import re
import stat
from functools import cached_property
from pathlib import Path

from evenground.errors import Finding, InputError, Severity

__all__ = ["MAX_BYTES", "Source", "decode", "read_bytes"]

MAX_BYTES = 20_000_000
"""Largest project file that is read; a site with tens of thousands of conductors takes less."""

_BREAKS = re.compile("\r\n|[\n\r\x85\u2028\u2029]")
_EXCERPT_LENGTH = 200


class Source:
    """Text of a project file with its name; makes findings that point into it."""

    def __init__(self, text: str, file_name: str) -> None:
        self.text = text
        self.file_name = file_name

    @cached_property
    def lines(self) -> list[str]:
        """The lines, broken as YAML breaks them."""
        return _BREAKS.split(self.text)

    def excerpt(self, line: int, column: int = 1) -> str:
        """A line, counted from 1, with tabs as single blanks so that columns fit; cut when very long."""
        if not 1 <= line <= len(self.lines):
            return ""
        text = self.lines[line - 1].replace("\t", " ").rstrip()
        return text[: max(_EXCERPT_LENGTH, column + 40)]

    def finding(
        self,
        code: str,
        message: str,
        advice: str = "",
        *,
        line: int = 0,
        column: int = 0,
        path: tuple[str | int, ...] = (),
        severity: Severity = Severity.ERROR,
    ) -> Finding:
        """A finding at a place of this file."""
        return Finding(
            code=code,
            message=message,
            advice=advice,
            severity=severity,
            path=path,
            file=self.file_name,
            line=line,
            column=column,
            excerpt=self.excerpt(line, column),
        )


def read_bytes(path: Path) -> bytes:
    """The bytes of a project file.

    Raises
    ------
    InputError
        When there is no such file, it is a folder or another special file, may not be read, or is
        larger than :data:`MAX_BYTES`.
    """
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            _refuse(path, "file-is-folder", "is a folder", "give the project file inside it")
        if not stat.S_ISREG(mode):
            _refuse(path, "file-special", "is not a regular file", "give a project file (YAML text)")
        with path.open("rb") as stream:
            data = stream.read(MAX_BYTES + 1)
    except FileNotFoundError:
        _refuse(path, "file-missing", "there is no such file", "check the name and the folder")
    except PermissionError:
        _refuse(path, "file-unreadable", "may not be read", "check the permissions of the file")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        _refuse(path, "file-unreadable", f"could not be read: {reason}", "")
    if len(data) > MAX_BYTES:
        _refuse(
            path,
            "file-too-large",
            f"is larger than {MAX_BYTES // 1_000_000} MB",
            "this is not a project file, or its geometry should be thinned out",
        )
    return data


def _refuse(path: Path, code: str, message: str, advice: str) -> None:
    raise InputError([Finding(code=code, message=message, advice=advice, file=str(path))])


def decode(data: bytes, file_name: str) -> str:
    """Decode UTF-8 (a byte-order mark is dropped).

    Raises
    ------
    InputError
        With line and column of the first byte that is not UTF-8.
    """
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        message = "is encoded in UTF-16"
        raise InputError([Finding("file-encoding", message, "save it as UTF-8", file=file_name)])
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8", errors="replace").removeprefix("\ufeff")
        source = Source(before, file_name)
        column = len(source.lines[-1]) + 1
        message = f"byte 0x{data[error.start]:02x} is not UTF-8 text"
        advice = "save the file as UTF-8 (the editor may have used a Windows code page)"
        raise InputError(
            [source.finding("file-encoding", message, advice, line=len(source.lines), column=column)]
        ) from None
