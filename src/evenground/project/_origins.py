"""Values written as ``{value: ..., origin: ...}``, origins of sections, and the register of inputs."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from operator import is_
from typing import Any, NamedTuple

from evenground.errors import Finding, InputError
from evenground.model.project import Origin, RegisteredInput
from evenground.project._explain import Path, validate
from evenground.project._nodes import Key, ListNode, MapNode, Node, ScalarNode
from evenground.project._schema_base import OriginFile
from evenground.project._source import Source
from evenground.project._words import shorten

__all__ = ["Leaf", "Stripped", "strip_origins"]

MAX_DEPTH = 80
VALUE, ORIGIN = "value", "origin"


class Leaf(NamedTuple):
    """One scalar input with its place and origin."""

    path: Path
    node: ScalarNode
    origin: Origin | None


@dataclass(slots=True)
class Stripped:
    """A tree without origins.

    ``root`` is the tree, ``data`` its plain values, ``leaves`` every scalar in file order.
    """

    root: Node
    data: Any
    leaves: list[Leaf] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    @property
    def register(self) -> tuple[RegisteredInput, ...]:
        """The register of inputs; empty values are left out."""
        return tuple(
            RegisteredInput(path=leaf.path, value=leaf.node.text, origin=leaf.origin, line=leaf.node.line)
            for leaf in self.leaves
            if leaf.node.value is not None
        )

    @property
    def origins(self) -> dict[Path, Origin]:
        """Origin of every scalar value that has one."""
        return {leaf.path: leaf.origin for leaf in self.leaves if leaf.origin is not None}


def strip_origins(source: Source, root: Node) -> Stripped:
    """Take the origins out of a tree, so that a schema need not know of them."""
    worker = _Worker(source)
    clean, data = worker.strip(root, (), None)
    return Stripped(clean, data, worker.leaves, worker.findings)


class _Worker:
    def __init__(self, source: Source) -> None:
        self.source = source
        self.leaves: list[Leaf] = []
        self.findings: list[Finding] = []

    def strip(self, node: Node, path: Path, origin: Origin | None, depth: int = 0) -> tuple[Node, Any]:
        """Clean node and plain value; ``origin`` comes from the section around."""
        if depth > MAX_DEPTH:
            message = f"nested more than {MAX_DEPTH} levels deep through aliases"
            raise InputError(
                [self.source.finding("yaml-depth", message, line=node.line, column=node.column, path=path)]
            )
        if isinstance(node, ScalarNode):
            self.leaves.append(Leaf(path, node, origin))
            return node, node.value
        if isinstance(node, ListNode):
            return self._list(node, path, origin, depth)
        if ORIGIN in node.entries:
            origin = self._origin(node.entries[ORIGIN], path) or origin
        if VALUE in node.entries:
            self._only_value_and_origin(node, path)
            return self.strip(node.entries[VALUE][1], path, origin, depth + 1)
        return self._mapping(node, path, origin, depth)

    def _list(self, node: ListNode, path: Path, origin: Origin | None, depth: int) -> tuple[Node, Any]:
        nodes: list[Node] = []
        values: list[Any] = []
        for i, item in enumerate(node.items):
            new, value = self.strip(item, (*path, i), origin, depth + 1)
            nodes.append(new)
            values.append(value)
        unchanged = all(map(is_, nodes, node.items))
        return node if unchanged else ListNode(node.line, node.column, nodes), values

    def _mapping(self, node: MapNode, path: Path, origin: Origin | None, depth: int) -> tuple[Node, Any]:
        clean = MapNode(node.line, node.column, node.flow)
        data: dict[str, Any] = {}
        for name, (key, child) in node.entries.items():
            if name != ORIGIN:
                new, value = self.strip(child, (*path, name), origin, depth + 1)
                clean.entries[name] = (key, new)
                data[name] = value
        return clean, data

    def _only_value_and_origin(self, node: MapNode, path: Path) -> None:
        for name, (key, child) in node.entries.items():
            if name in (VALUE, ORIGIN):
                continue
            empty = isinstance(child, ScalarNode) and child.value is None and node.flow
            advice = (
                "a comma ends a text inside braces; put a text with commas in quotes"
                if empty
                else "write {value: ..., origin: {document: ..., note: ...}}"
            )
            message = f"unknown key '{shorten(name)}' beside 'value'"
            self.findings.append(
                self.source.finding(
                    "key-unknown", message, advice, line=key.line, column=key.column, path=(*path, name)
                )
            )

    def _origin(self, entry: tuple[Key, Node], path: Path) -> Origin | None:
        key, node = entry
        place = (*path, ORIGIN)
        if isinstance(node, ScalarNode):
            return Origin(document=node.text) if node.value is not None else None
        data = _plain(node)
        holder = MapNode(node.line, node.column, False, {ORIGIN: (key, node)})
        model, found = validate(self.source, holder, OriginFile, data, (ORIGIN,))
        self.findings += [_moved(f, place) for f in found]
        if model is None:
            return None
        return Origin(model.document, model.revision, model.date, model.note, model.confidence)


def _moved(finding: Finding, place: Path) -> Finding:
    return replace(finding, path=(*place, *finding.path[1:]))


def _plain(node: Node, depth: int = 0) -> Any:
    """Plain values of an origin, which is flat; deeper nesting is cut off and then refused."""
    if isinstance(node, ScalarNode):
        return node.value
    if depth > 2:
        return []
    if isinstance(node, ListNode):
        return [_plain(item, depth + 1) for item in node.items]
    return {name: _plain(child, depth + 1) for name, (_, child) in node.entries.items()}
