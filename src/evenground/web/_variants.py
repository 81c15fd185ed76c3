"""Variants of a project: whole project files kept in a folder beside the project file."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from evenground.errors import InputError
from evenground.project._save import read_state, save_text

__all__ = ["Variant", "forget", "keep", "kept", "variant_folder"]

MOST = 40
_NAME = re.compile(r"[\w][\w .()+-]{0,59}")


@dataclass(frozen=True, slots=True)
class Variant:
    """One kept variant."""

    name: str
    text: str


def variant_folder(project_file: Path) -> Path:
    """The folder of the variants."""
    return project_file.with_name(f"{project_file.stem}-variants")


def _file(project_file: Path, name: str) -> Path:
    """The file of a variant; a name can not lead out of the folder."""
    tidy = name.strip()
    if not _NAME.fullmatch(tidy) or tidy.endswith((".", " ")):
        raise InputError("a name has 1 to 60 letters, digits, blanks, dots, hyphens and no slash")
    return variant_folder(project_file) / f"{tidy}.yaml"


def keep(project_file: Path, name: str, text: str) -> None:
    """Keep the text as a variant.

    Raises
    ------
    InputError
        When the name is not usable, is taken, or there are too many.
    """
    file = _file(project_file, name)
    file.parent.mkdir(exist_ok=True)
    if file.exists():
        raise InputError(f"there is a variant “{file.stem}” already; take another name")
    if len(kept(project_file)) >= MOST:
        raise InputError(f"{MOST} variants are kept already; forget one first")
    save_text(file, text, None)


def kept(project_file: Path) -> tuple[Variant, ...]:
    """The variants by name; files that can not be read are left out."""
    folder = variant_folder(project_file)
    rows = []
    for file in sorted(folder.glob("*.yaml")) if folder.is_dir() else []:
        try:
            if file.resolve().parent == folder.resolve():
                rows.append(Variant(file.stem, read_state(file).text))
        except InputError:
            continue
    return tuple(rows)


def forget(project_file: Path, name: str) -> None:
    """Remove a variant."""
    _file(project_file, name).unlink(missing_ok=True)
