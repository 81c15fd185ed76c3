"""Cutting a change into the text of a YAML document, by the marks of its nodes."""

from __future__ import annotations

import json
import re
from typing import Any

import yaml

from evenground.project._nodes import scalar_value

__all__ = ["AwkwardError", "cut", "flow_text"]

LINE = 100
"""Longest text of a collection that is written on one line. [characters]"""
_PLAIN = re.compile(r"[\w][\w .+\-/()°%²³·×ΩµΔ“”–—]*(?<! )")


class AwkwardError(Exception):
    """The place is written in a way that this module leaves alone."""


def scalar_text(value: Any) -> str:
    """A scalar as YAML 1.2."""
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(int(value))
    if isinstance(value, float):
        return f"{value:.12g}"
    text = str(value)
    plain = _PLAIN.fullmatch(text) and isinstance(scalar_value(text), str)
    return text if plain else json.dumps(text, ensure_ascii=False)


def flow_text(value: Any) -> str:
    """Any value on one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{scalar_text(k)}: {flow_text(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(flow_text(v) for v in value) + "]"
    return scalar_text(value)


def block_text(value: Any, indent: int) -> str:
    """Any value to stand behind ``key:``; long collections go on lines of their own."""
    text = flow_text(value)
    if len(text) + indent <= LINE or not isinstance(value, dict | list | tuple):
        return f" {text}"
    blanks = "\n" + " " * (indent + 2)
    if isinstance(value, dict):
        return "".join(f"{blanks}{scalar_text(k)}:{block_text(v, indent + 2)}" for k, v in value.items())
    if not any(isinstance(v, dict) for v in value):
        return f" {text}"
    return "".join(f"{blanks}- {flow_text(v)}" for v in value)


def cut(text: str, root: Any, change: Any) -> str:
    """The text with one change (an object with ``path`` and, unless it drops, ``value``) cut in."""
    return _Cutter(text, root).make(change)


class _Cutter:
    def __init__(self, text: str, root: Any) -> None:
        self.text = text
        self.root = root

    def make(self, change: Any) -> str:
        trail = self._trail(change.path[:-1])
        holder, last = trail[-1], change.path[-1]
        kind = type(change).__name__
        if kind == "Drop":
            return self._drop(trail, last)
        if isinstance(holder, yaml.SequenceNode) and isinstance(last, int):
            if kind == "Insert" or last == len(holder.value):
                return self._insert_item(holder, last, change.value)
            return self._replace(holder.value[last], None, change.value, holder)
        if not isinstance(holder, yaml.MappingNode) or kind == "Insert":
            raise AwkwardError
        for key, value in holder.value:
            if key.value == last:
                return self._replace(value, key, change.value, holder)
        return self._add_key(holder, str(last), change.value)

    # places

    def _trail(self, path: tuple[str | int, ...]) -> list[Any]:
        node = self._inner(self.root)
        trail = [node]
        for part in path:
            if isinstance(node, yaml.MappingNode):
                found = [v for k, v in node.value if k.value == part]
                if len(found) != 1:
                    raise AwkwardError
                node = found[0]
            elif isinstance(node, yaml.SequenceNode) and isinstance(part, int):
                node = node.value[part]
            else:
                raise AwkwardError
            node = self._inner(node)
            trail.append(node)
        return trail

    def _inner(self, node: Any) -> Any:
        """The value of a value written with its origin."""
        while isinstance(node, yaml.MappingNode):
            keys = {k.value: v for k, v in node.value}
            if "value" not in keys or not set(keys) <= {"value", "origin"}:
                return node
            node = keys["value"]
        return node

    def _end(self, node: Any) -> int:
        """Where the content of a node ends, comments behind it not counted."""
        if not isinstance(node, yaml.ScalarNode) and not node.flow_style and node.value:
            last = node.value[-1]
            if isinstance(last, tuple):
                key, value = last
                return self._end(value) if value.end_mark.index > key.end_mark.index else self._colon(key) + 1
            return self._end(last)
        start, end = node.start_mark.index, node.end_mark.index
        held = self.text[start:end].rstrip()
        return int(start + len(held))

    def _colon(self, key: Any) -> int:
        at = self.text.find(":", key.end_mark.index)
        if at < 0 or self.text[key.end_mark.index : at].strip():
            raise AwkwardError
        return at

    def _line_start(self, index: int) -> int:
        return self.text.rfind("\n", 0, index) + 1

    def _line_end(self, index: int) -> int:
        """Index behind the line break of the line that holds ``index``."""
        at = self.text.find("\n", index)
        return len(self.text) if at < 0 else at + 1

    def _spliced(self, start: int, end: int, new: str) -> str:
        return self.text[:start] + new + self.text[end:]

    def _below(self, index: int, lines: str) -> str:
        """Lines put below the line that holds ``index``."""
        at = self._line_end(index)
        lead = "" if at == 0 or self.text[at - 1] == "\n" else "\n"
        return self._spliced(at, at, f"{lead}{lines}\n")

    # changes

    def _replace(self, node: Any, key: Any, value: Any, holder: Any) -> str:
        if not (isinstance(value, dict) and "value" in value):
            node, key = self._innermost(node, key)
        start, end = node.start_mark.index, self._end(node)
        block = not (isinstance(node, yaml.ScalarNode) or node.flow_style)
        in_block = (
            key is not None and not holder.flow_style and holder.value and key in [k for k, _ in holder.value]
        )
        if end <= start and key is not None:
            start = end = self._colon(key) + 1
            return self._spliced(start, end, f" {flow_text(value)}")
        if isinstance(node, yaml.ScalarNode) and node.style in ("|", ">"):
            raise AwkwardError
        if key is None or not (in_block and (block or isinstance(value, dict | list))):
            if block:
                if key is not None:
                    raise AwkwardError
                self._dash(node)
            return self._spliced(start, end, flow_text(value))
        return self._spliced(self._colon(key) + 1, end, block_text(value, key.start_mark.column))

    def _innermost(self, node: Any, key: Any) -> tuple[Any, Any]:
        while isinstance(node, yaml.MappingNode):
            keys = {k.value: (k, v) for k, v in node.value}
            if "value" not in keys or not set(keys) <= {"value", "origin"}:
                break
            key, node = keys["value"]
        return node, key

    def _add_key(self, holder: Any, name: str, value: Any) -> str:
        if holder.flow_style or not holder.value:
            return self._into_flow(holder, len(holder.value), f"{scalar_text(name)}: {flow_text(value)}")
        indent = holder.value[0][0].start_mark.column
        line = " " * indent + f"{scalar_text(name)}:{block_text(value, indent)}"
        return self._below(max(self._end(holder) - 1, 0), line)

    def _insert_item(self, holder: Any, index: int, value: Any) -> str:
        if holder.flow_style or not holder.value:
            return self._into_flow(holder, index, flow_text(value))
        dash = self._dash(holder.value[min(index, len(holder.value) - 1)])
        column = dash - self._line_start(dash)
        line = " " * column + "- " + self._item_text(value, column)
        if index == 0:
            start = self._line_start(dash)
            if self.text[start:dash].strip():
                raise AwkwardError
            return self._spliced(start, start, f"{line}\n")
        return self._below(self._end(holder.value[index - 1]) - 1, line)

    def _item_text(self, value: Any, column: int) -> str:
        text = flow_text(value)
        if len(text) + column + 2 <= LINE or not isinstance(value, dict) or not value:
            return text
        rows = [f"{scalar_text(k)}:{block_text(v, column + 2)}" for k, v in value.items()]
        return ("\n" + " " * (column + 2)).join(rows)

    def _dash(self, item: Any) -> int:
        at = self.text.rfind("-", 0, item.start_mark.index)
        if at < 0 or self.text[at + 1 : item.start_mark.index].strip():
            raise AwkwardError
        return at

    def _into_flow(self, holder: Any, index: int, item: str) -> str:
        if not holder.flow_style:
            raise AwkwardError
        entries = [e[1] if isinstance(e, tuple) else e for e in holder.value]
        if not entries:
            start = holder.start_mark.index + 1
            return self._spliced(start, start, item)
        if index == 0:
            first = holder.value[0]
            at = (first[0] if isinstance(first, tuple) else first).start_mark.index
            return self._spliced(at, at, f"{item}, ")
        at = self._end(entries[index - 1])
        return self._spliced(at, at, f", {item}")

    def _drop(self, trail: list[Any], last: str | int) -> str:
        holder = trail[-1]
        mapping = isinstance(holder, yaml.MappingNode)
        pairs = holder.value if mapping else [(item, item) for item in holder.value]
        index = (
            [k.value for k, _ in pairs].index(last)
            if mapping and last in [k.value for k, _ in pairs]
            else last
        )
        if not isinstance(index, int) or not 0 <= index < len(pairs):
            raise AwkwardError
        key, value = pairs[index]
        if holder.flow_style:
            if len(pairs) == 1:
                return self._spliced(key.start_mark.index, self._end(value), "")
            if index == 0:
                return self._spliced(key.start_mark.index, pairs[1][0].start_mark.index, "")
            return self._spliced(self._end(pairs[index - 1][1]), self._end(value), "")
        if len(pairs) == 1:
            return self._empty(trail, "{}" if mapping else "[]")
        start = key.start_mark.index if mapping else self._dash(value)
        start_line = self._line_start(start)
        if self.text[start_line:start].strip():
            raise AwkwardError
        end = max(self._end(value), key.end_mark.index if mapping else 0)
        return self._spliced(start_line, self._line_end(end - 1), "")

    def _empty(self, trail: list[Any], what: str) -> str:
        """A block collection that loses its only entry becomes ``[]`` or ``{}``."""
        if len(trail) < 2 or not isinstance(trail[-2], yaml.MappingNode):
            raise AwkwardError
        for key, value in trail[-2].value:
            if value is trail[-1]:
                return self._spliced(self._colon(key) + 1, self._end(value), f" {what}")
        raise AwkwardError
