"""The order of reading a project file: text, tree, origins, schema, checks, shapes."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

from evenground.errors import Finding, InputError, Severity
from evenground.model.project import Project, RegisteredInput
from evenground.model.soil import SoilReading
from evenground.project._as_built import check_as_built, with_as_built
from evenground.project._checks_construction import check_construction
from evenground.project._checks_installation import check_installation
from evenground.project._checks_lightning import check_lightning
from evenground.project._checks_network import check_network
from evenground.project._checks_person import check_person
from evenground.project._checks_separate import check_separate
from evenground.project._checks_site import check_site
from evenground.project._checks_soil import check_soil
from evenground.project._checks_system import check_conductors, check_faults, check_names
from evenground.project._checks_tests import check_tests
from evenground.project._convert import to_project
from evenground.project._convert_network import to_network
from evenground.project._convert_tests import read_site_tests, to_upkeep
from evenground.project._drawn import read_site_drawing, with_drawing
from evenground.project._explain import locate, validate
from evenground.project._look import Look
from evenground.project._nodes import MapNode, Node, read_tree
from evenground.project._origins import Stripped, strip_origins
from evenground.project._readings_table import read_table_bytes, readings_of_table
from evenground.project._schema import ProjectFile
from evenground.project._slips import slip_findings
from evenground.project._source import MAX_BYTES, Source, decode, read_bytes

if TYPE_CHECKING:
    from hashlib import _Hash as Hash

__all__ = ["load_project", "parse_project", "placed"]


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
    return _parse(decode(data, str(path)), str(path), data, FilePath(path).parent)


def parse_project(text: str, file_name: str = "", folder: FilePath | None = None) -> Project:
    """Read a project from text; as :func:`load_project`, the name serves messages only.

    ``folder`` is where files named by the project lie; without it such files are refused.
    """
    data = text.encode("utf-8", errors="surrogatepass")
    if len(data) > MAX_BYTES:
        message = f"the text is larger than {MAX_BYTES // 1_000_000} MB"
        raise InputError([Finding("file-too-large", message, file=file_name)])
    return _parse(text.removeprefix("\ufeff"), file_name, data, folder)


def _parse(text: str, file_name: str, data: bytes, folder: FilePath | None) -> Project:
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
    tables, register, digest = _tables(file, folder, hashlib.sha256(data), source, stripped.root)
    try:
        network = to_network(file.network)
        tests, forms = read_site_tests(file.tests, folder, digest, _tags(file))
    except InputError as error:
        raise InputError([_placed(f, source, stripped.root) for f in error.findings]) from error
    try:
        drawn = read_site_drawing(file, folder)
        if drawn is not None:
            digest.update(bytes.fromhex(drawn.contents.sha256))
        project = to_project(
            file,
            origins=stripped.origins,
            register=(*stripped.register, *register, *forms),
            warnings=tuple(found),
            file_name=file_name,
            input_hash=digest.hexdigest(),
            tables=tables,
            network=network,
        )
        project = replace(project, tests=tests, upkeep=to_upkeep(file.upkeep, file.conductors))
        project = project if drawn is None else with_drawing(project, drawn)
        project = with_as_built(project, file, folder, digest)
        return replace(project, input_hash=digest.hexdigest())
    except InputError as error:
        raise InputError([_placed(f, source, stripped.root) for f in error.findings]) from error


def _tags(file: ProjectFile) -> set[str] | None:
    return None if file.equipment is None else {e.tag for e in file.equipment}


def placed(findings: Iterable[Finding], text: str, file_name: str = "") -> list[Finding]:
    """Findings of a later stage with line, column and line of text of their fields.

    Parameters
    ----------
    findings : iterable of Finding
        Those that have a line already stay as they are.
    text : str
        The project file.
    file_name : str
        For messages.
    """
    rows = list(findings)
    if all(f.line or not f.path for f in rows):
        return rows
    source = Source(text.removeprefix("\ufeff"), file_name)
    root, _ = read_tree(source)
    if not isinstance(root, MapNode):
        return rows
    stripped = strip_origins(source, root)
    return [_placed(f, source, stripped.root) if f.path else f for f in rows]


def _tables(
    file: ProjectFile, folder: FilePath | None, digest: Hash, source: Source, root: Node
) -> tuple[dict[int, tuple[SoilReading, ...]], list[RegisteredInput], Hash]:
    """Readings kept in other files, their rows of the register, and the hash with them in it."""
    tables: dict[int, tuple[SoilReading, ...]] = {}
    register: list[RegisteredInput] = []
    findings: list[Finding] = []
    for index, traverse in enumerate(file.soil.traverses):
        table = traverse.readings_file
        if table is None:
            continue
        path: tuple[str | int, ...] = ("soil", "traverses", index, "readings_file")
        try:
            if folder is None:
                message = "readings_file needs the folder of the project file"
                raise InputError([Finding("table-folder", message, "save the project first", path=path)])
            content = read_table_bytes(folder / table.file, path)
            tables[index] = readings_of_table(
                content,
                table.file,
                {role: (column.column, column.unit) for role, column in table.columns.items()},
                sheet=table.sheet,
                header_row=table.header_row,
                delimiter=table.delimiter,
                decimal=table.decimal,
                path=path,
            )
            digest.update(content)
            value = f"{len(tables[index])} readings, SHA-256 {hashlib.sha256(content).hexdigest()[:12]}"
            register.append(RegisteredInput((*path, table.file), value, None))
        except InputError as error:
            findings += [_placed(f, source, root) for f in error.findings]
    if findings:
        raise InputError(findings)
    return tables, register, digest


def _placed(finding: Finding, source: Source, root: Node) -> Finding:
    """A finding about the table with its place in the project file, unless it names a cell itself."""
    if finding.line:
        return finding
    key, node, _ = locate(root, finding.path)
    spot = key or node
    excerpt = source.excerpt(spot.line, spot.column)
    return replace(finding, file=source.file_name, line=spot.line, column=spot.column, excerpt=excerpt)


def _checks(source: Source, stripped: Stripped, wrong: list[Finding]) -> list[Finding]:
    slips = slip_findings(source, stripped.leaves)
    look = Look(source, stripped.root, stripped.data, stripped.origins)
    look.set_aside([*wrong, *slips])
    check_names(look)
    check_soil(look)
    check_faults(look)
    check_conductors(look)
    check_site(look)
    check_separate(look)
    check_installation(look)
    check_person(look)
    check_network(look)
    check_lightning(look)
    check_tests(look)
    check_as_built(look)
    check_construction(look)
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
