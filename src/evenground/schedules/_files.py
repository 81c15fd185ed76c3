"""Writing a file in one stroke, so that a failure or a kill never leaves half of one behind."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

__all__ = ["write_bytes"]


def write_bytes(file: Path, data: bytes) -> None:
    """Write into a neighbour first, then rename; an earlier file stays until then."""
    handle, name = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}.")
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        umask = os.umask(0o022)
        os.umask(umask)
        part.chmod(0o666 & ~umask)
        part.replace(file)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
