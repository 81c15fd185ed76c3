"""YAML 1.2 as a tree in which every key and value knows its line and column.

The parser's events are folded into nodes without recursion, so nesting, aliases and size are
limited here and not by the interpreter's stack.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, NamedTuple, TypeAlias

import yaml

from evenground.errors import Finding, InputError
from evenground.project._source import Source

__all__ = ["Key", "ListNode", "MapNode", "Node", "ScalarNode", "WrittenFloat", "WrittenInt", "read_tree"]

MAX_DEPTH = 40
MAX_NODES = 3_000_000
MAX_ALIASED = 200_000
"""Nodes that aliases may add; more is a file made to exhaust memory."""

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_INT = re.compile(r"[-+]?[0-9]+")
_OCTAL_OR_HEX = re.compile(r"0o[0-7]+|0x[0-9a-fA-F]+")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_SPECIAL = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL")),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
    **dict.fromkeys((".inf", ".Inf", ".INF", "+.inf", "+.Inf", "+.INF"), float("inf")),
    **dict.fromkeys(("-.inf", "-.Inf", "-.INF"), float("-inf")),
    **dict.fromkeys((".nan", ".NaN", ".NAN"), float("nan")),
}
_EXACT_DIGITS = 15
_FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\x80-\x84\x86-\x9f\ud800-\udfff\ufeff\ufffe\uffff]")


class WrittenInt(int):
    """A whole number that remembers how it was written."""

    text: str


class WrittenFloat(float):
    """A number that remembers how it was written."""

    __slots__ = ("text",)
    text: str


@dataclass(slots=True)
class ScalarNode:
    """One value; ``text`` is as written, ``plain`` False when it stood in quotes."""

    value: Any
    text: str
    plain: bool
    line: int
    column: int
    size: int = 1


@dataclass(slots=True)
class ListNode:
    """A list."""

    line: int
    column: int
    items: list[Node] = field(default_factory=list)
    size: int = 1


class Key(NamedTuple):
    """A key of a mapping with its place."""

    text: str
    line: int
    column: int


@dataclass(slots=True)
class MapNode:
    """A mapping; ``flow`` when written in braces."""

    line: int
    column: int
    flow: bool
    entries: dict[str, tuple[Key, Node]] = field(default_factory=dict)
    size: int = 1


Node: TypeAlias = ScalarNode | ListNode | MapNode


def _number(text: str, value: float | int) -> Any:
    number: WrittenInt | WrittenFloat = WrittenInt(value) if isinstance(value, int) else WrittenFloat(value)
    number.text = text
    return number


def scalar_value(text: str) -> Any:
    """Value of a plain scalar by the core schema of YAML 1.2."""
    if text in _SPECIAL:
        value = _SPECIAL[text]
        return _number(text, value) if isinstance(value, float) else value
    if _INT.fullmatch(text):
        return _number(text, int(text) if len(text) <= _EXACT_DIGITS else float(text))
    if _FLOAT.fullmatch(text):
        return _number(text, float(text))
    if _OCTAL_OR_HEX.fullmatch(text) and len(text) <= _EXACT_DIGITS:
        return _number(text, int(text, 0))
    return text


def read_tree(source: Source) -> tuple[Node, list[Finding]]:
    """Parse the text into one tree.

    Returns
    -------
    root, findings
        Findings are duplicate keys, of which the first one is kept.

    Raises
    ------
    InputError
        When the text is empty, is not YAML, is nested too deeply, holds tags, several documents,
        or aliases that are undefined, refer to themselves or multiply beyond reason.
    """
    forbidden = _bad_character(source)
    if forbidden is not None:
        raise InputError([forbidden])
    builder = _Builder(source)
    try:
        for event in _events(source.text):
            builder.take(event)
    except yaml.MarkedYAMLError as error:
        raise InputError([_syntax(source, error)]) from None
    except (yaml.YAMLError, ValueError, RecursionError) as error:
        raise InputError([source.finding("yaml-syntax", f"is not YAML: {error}")]) from None
    root = builder.root
    if root is None or (isinstance(root, ScalarNode) and root.value is None):
        advice = "write a project, or make a starter with: evenground new site.yaml"
        raise InputError([source.finding("file-empty", "the file holds no project", advice)])
    return root, builder.findings


def _events(text: str) -> Iterator[Any]:
    loader = _LOADER(text)
    try:
        while loader.check_event():
            yield loader.get_event()
    finally:
        loader.dispose()


def _syntax(source: Source, error: yaml.MarkedYAMLError) -> Finding:
    mark = error.problem_mark or error.context_mark
    line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
    problem = str(error.problem or error.context or "is not YAML")
    text = source.lines[line - 1] if 1 <= line <= len(source.lines) else ""
    if "nesting depth" in problem:
        message = f"nested more than {MAX_DEPTH} levels deep"
        return source.finding("yaml-depth", message, "no project needs that", line=line, column=column)
    where = f" ({error.context}{_from_line(error.context_mark)})" if error.context else ""
    advice = _syntax_advice(f"{problem} {error.context}", text, column)
    return source.finding("yaml-syntax", f"YAML: {problem}{where}", advice, line=line, column=column)


def _from_line(mark: Any) -> str:
    return f" from line {mark.line + 1}" if mark is not None else ""


def _syntax_advice(problem: str, text: str, column: int) -> str:
    blanks = text[: len(text) - len(text.lstrip())]
    if "\t" in blanks or text[max(column - 1, 0) : column] == "\t" or "'\\t'" in problem:
        return "indent with blanks, not with tabs"
    if "mapping values are not allowed" in problem:
        return "put a text that holds ': ' in quotes, and check the indentation"
    if "',' or '}'" in problem or "',' or ']'" in problem:
        return "a bracket is not closed or a comma is missing"
    if "cannot start any token" in problem or "start any token" in problem:
        return "put the text in quotes"
    if "block end" in problem or "block mapping" in problem:
        return "check the indentation of this line and of the lines above"
    if "quoted scalar" in problem:
        return "a closing quote is missing"
    return ""


def _bad_character(source: Source) -> Finding | None:
    """Place of a character that YAML does not allow; looked for here, as parsers count it differently."""
    match = _FORBIDDEN.search(source.text)
    if match is None:
        return None
    advice = "remove it; the file may be damaged or not be text"
    before = Source(source.text[: match.start()], "").lines
    message = f"character U+{ord(match[0]):04X} is not allowed in YAML"
    return source.finding("yaml-character", message, advice, line=len(before), column=len(before[-1]) + 1)


@dataclass(slots=True)
class _Open:
    """A collection that is being read."""

    node: ListNode | MapNode
    anchor: str | None
    key: Key | None = None
    skip: bool = False


class _Builder:
    """Folds parser events into a tree."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.root: Node | None = None
        self.findings: list[Finding] = []
        self.stack: list[_Open] = []
        self.anchors: dict[str, Node | None] = {}
        self.nodes = 0
        self.aliased = 0
        self.documents = 0

    def take(self, event: Any) -> None:
        """Use one event."""
        if isinstance(event, yaml.ScalarEvent):
            self._scalar(event)
        elif isinstance(event, yaml.CollectionStartEvent):
            self._start(event)
        elif isinstance(event, yaml.CollectionEndEvent):
            top = self.stack.pop()
            if top.anchor is not None:
                self.anchors[top.anchor] = top.node
            self._place(top.node, event)
        elif isinstance(event, yaml.AliasEvent):
            self._alias(event)
        elif isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                self._fail(
                    event, "yaml-documents", "a second document starts here", "one file holds one project"
                )

    def _fail(self, event: Any, code: str, message: str, advice: str) -> None:
        mark = event.start_mark
        finding = self.source.finding(code, message, advice, line=mark.line + 1, column=mark.column + 1)
        raise InputError([*self.findings, finding])

    def _common(self, event: Any) -> None:
        if event.tag is not None and event.tag != "!":
            self._fail(event, "yaml-tag", f"the tag {event.tag} is not used in project files", "leave it out")
        self.nodes += 1
        if self.nodes > MAX_NODES:
            self._fail(event, "file-too-large", f"more than {MAX_NODES} values", "thin out the geometry")

    def _wants_key(self) -> bool:
        top = self.stack[-1] if self.stack else None
        return top is not None and isinstance(top.node, MapNode) and top.key is None

    def _scalar(self, event: Any) -> None:
        self._common(event)
        mark, text = event.start_mark, event.value
        line, column = mark.line + 1, mark.column + 1
        if self._wants_key():
            self._key(Key(text, line, column))
            return
        plain = bool(event.implicit[0]) and event.tag is None
        node = ScalarNode(scalar_value(text) if plain else text, text, plain, line, column)
        if event.anchor is not None:
            self.anchors[event.anchor] = node
        self._place(node, event)

    def _key(self, key: Key) -> None:
        top = self.stack[-1]
        assert isinstance(top.node, MapNode)
        top.key = key
        first = top.node.entries.get(key.text)
        top.skip = first is not None
        if first is not None:
            self.findings.append(
                self.source.finding(
                    "key-twice",
                    f"key '{_short(key.text)}' stands twice, first in line {first[0].line}",
                    "keep one of them",
                    line=key.line,
                    column=key.column,
                    path=(*self._path(), key.text),
                )
            )

    def _path(self) -> tuple[str | int, ...]:
        parts: list[str | int] = []
        for opened in self.stack[:-1]:
            if isinstance(opened.node, ListNode):
                parts.append(len(opened.node.items))
            elif opened.key is not None:
                parts.append(opened.key.text)
        return tuple(parts)

    def _start(self, event: Any) -> None:
        self._common(event)
        if self._wants_key():
            self._fail(event, "yaml-key", "a key must be a word, not a list or mapping", "write key: value")
        if len(self.stack) >= MAX_DEPTH:
            self._fail(
                event, "yaml-depth", f"nested more than {MAX_DEPTH} levels deep", "no project needs that"
            )
        mark = event.start_mark
        line, column = mark.line + 1, mark.column + 1
        node: ListNode | MapNode = (
            MapNode(line, column, bool(event.flow_style))
            if isinstance(event, yaml.MappingStartEvent)
            else ListNode(line, column)
        )
        if event.anchor is not None:
            self.anchors[event.anchor] = None
        self.stack.append(_Open(node, event.anchor))

    def _alias(self, event: Any) -> None:
        name = event.anchor
        if self._wants_key():
            self._fail(event, "yaml-key", f"the alias *{name} can not be a key", "write the key out")
        if name not in self.anchors:
            self._fail(
                event, "yaml-alias", f"the alias *{name} has no anchor &{name} above it", "define it first"
            )
        node = self.anchors[name]
        if node is None:
            self._fail(event, "yaml-alias", f"the alias *{name} stands inside its own anchor", "remove it")
            return
        self.aliased += node.size
        if self.aliased > MAX_ALIASED:
            self._fail(
                event, "yaml-alias", f"aliases multiply to over {MAX_ALIASED} values", "write the values out"
            )
        self._place(node, event)

    def _place(self, node: Node, event: Any) -> None:
        if not self.stack:
            self.root = node
            return
        top = self.stack[-1]
        top.node.size += node.size
        if isinstance(top.node, ListNode):
            top.node.items.append(node)
        elif top.key is not None:
            if not top.skip:
                top.node.entries[top.key.text] = (top.key, node)
            top.key = None


def _short(text: str) -> str:
    return text if len(text) <= 60 else text[:57] + "..."
