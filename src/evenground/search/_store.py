"""Results kept in one SQLite file, row by row, so that a run that ends early loses nothing that was done."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from evenground.errors import InputError

__all__ = ["Store"]

FORMAT = 1
TABLE = """
create table if not exists results (
  key text primary key, site text not null, change text not null, verdict text not null, data text not null
)
"""


class Store:
    """Results by key; a context manager. ``:memory:`` keeps them only while it lives."""

    def __init__(self, file: Path | str) -> None:
        """Begin or continue a store.

        Raises
        ------
        InputError
            When the file is something else.
        """
        try:
            self._base = sqlite3.connect(str(file))
            version = int(self._base.execute("pragma user_version").fetchone()[0])
            others = self._base.execute("select count(*) from sqlite_master").fetchone()[0]
            if version != FORMAT and (version or others):
                raise InputError(f"{file}: a database of something else; give another file")
            self._base.execute(TABLE)
            self._base.execute(f"pragma user_version = {FORMAT}")
            self._base.commit()
        except sqlite3.Error as error:
            raise InputError(f"{file}: can not be used as a store of results: {error}") from error

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *exception: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._base.close()

    def __len__(self) -> int:
        return int(self._base.execute("select count(*) from results").fetchone()[0])

    def get(self, key: str) -> dict[str, Any] | None:
        """The result of a key; None when it is not there."""
        row = self._base.execute("select data from results where key = ?", (key,)).fetchone()
        return None if row is None else dict(json.loads(row[0]))

    def put(self, key: str, site: str, change: str, data: Mapping[str, Any]) -> None:
        """Keep a result; written to the disk at once."""
        row = (key, site, change, str(data["verdict"]), json.dumps(dict(data), ensure_ascii=False))
        self._base.execute("insert or replace into results values (?, ?, ?, ?, ?)", row)
        self._base.commit()
