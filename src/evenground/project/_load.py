"""The order of reading a project file: text, tree, origins, schema, checks, shapes."""

from __future__ import annotations

import hashlib
from pathlib import Path as FilePath

from evenground.errors import Finding, InputError, Severity
from evenground.model.project import Project
from evenground.project._checks_site import check_site
from evenground.project._checks_soil import check_soil
from evenground.project._checks_system import check_conductors, check_faults, check_names
from evenground.project._convert import to_project
from evenground.project._explain import validate
from evenground.project._look import Look
from evenground.project._nodes import MapNode, read_tree
from evenground.project._origins import Stripped, strip_origins
from evenground.project._schema import ProjectFile
from evenground.project._slips import slip_findings
from evenground.project._source import MAX_BYTES, Source, decode, read_bytes

__all__ = ["load_project", "parse_project"]


def load_project(path: str | FilePath) -> Project:
    """Read a project file.

    Parameters
    ----------
    path : str or Path
        The YAML file.

    Returns
    -------
    Project
        In SI units, with register of inputs, warnings, file name and hash of the bytes.

    Raises
    ------
    InputError
        With every error of the file, each with line and column, sorted by line.
    """
    data = read_bytes(FilePath(path))
    return _parse(decode(data, str(path)), str(path), hashlib.sha256(data).hexdigest())


def parse_project(text: str, file_name: str = "") -> Project:
    """Read a project from text; as :func:`load_project`, the name serves messages only."""
    data = text.encode("utf-8", errors="surrogatepass")
    if len(data) > MAX_BYTES:
        message = f"the text is larger than {MAX_BYTES // 1_000_000} MB"
        raise InputError([Finding("file-too-large", message, file=file_name)])
    return _parse(text.removeprefix("\ufeff"), file_name, hashlib.sha256(data).hexdigest())


def _parse(text: str, file_name: str, input_hash: str) -> Project:
    source = Source(text, file_name)
    root, findings = read_tree(source)
    if not isinstance(root, MapNode):
        message = "a project file is a mapping of sections (evenground, project, soil, ...)"
        raise InputError(
            [
                source.finding(
                    "file-not-project", message, "see the starter file", line=root.line, column=root.column
                )
            ]
        )
    stripped = strip_origins(source, root)
    if not isinstance(stripped.root, MapNode):
        message = "the whole file is written as one {value, origin}"
        raise InputError(
            [source.finding("file-not-project", message, "see the starter file", line=1, column=1)]
        )
    file, wrong = validate(source, stripped.root, ProjectFile, stripped.data)
    found = _in_order([*findings, *stripped.findings, *wrong, *_checks(source, stripped, wrong)])
    errors = [f for f in found if f.severity is Severity.ERROR]
    if errors or file is None:
        raise InputError(errors)
    return to_project(
        file,
        origins=stripped.origins,
        register=stripped.register,
        warnings=tuple(found),
        file_name=file_name,
        input_hash=input_hash,
    )


def _checks(source: Source, stripped: Stripped, wrong: list[Finding]) -> list[Finding]:
    slips = slip_findings(source, stripped.leaves)
    look = Look(source, stripped.root, stripped.data, stripped.origins)
    look.set_aside([*wrong, *slips])
    check_names(look)
    check_soil(look)
    check_faults(look)
    check_conductors(look)
    check_site(look)
    return [*slips, *look.findings]


def _in_order(findings: list[Finding]) -> list[Finding]:
    """Sorted by place; of several errors at one field only the first found is kept.

    A schema error comes first and makes later remarks about the same field idle.
    """
    seen: set[tuple[str | int, ...]] = set()
    kept: list[Finding] = []
    for finding in findings:
        if finding.path and finding.code != "key-twice":
            if finding.path in seen:
                continue
            seen.add(finding.path)
        kept.append(finding)
    return sorted(kept, key=lambda f: (f.line, f.column))
