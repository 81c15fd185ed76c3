"""Words for messages: units from key names, nearest known word, numbers written in odd ways."""

from __future__ import annotations

import re
from collections.abc import Iterable

__all__ = ["edit_distance", "meant_by", "nearest", "number_advice", "shorten", "unit_of", "with_unit"]

_UNITS = (
    ("_kv_per_us", "kV/us"),
    ("_ka_per_us", "kA/us"),
    ("_kv_per_m", "kV/m"),
    ("_mm_per_year", "mm/year"),
    ("_ohm_per_km", "ohm/km"),
    ("_ohm_m", "ohm m"),
    ("_mohm", "mohm"),
    ("_ohm", "ohm"),
    ("_mm2", "mm2"),
    ("_mm", "mm"),
    ("_m", "m"),
    ("_kv", "kV"),
    ("_v", "V"),
    ("_ka", "kA"),
    ("_a", "A"),
    ("_s", "s"),
    ("_hz", "Hz"),
    ("_kg", "kg"),
    ("_c", "degC"),
    ("_deg", "deg"),
    ("_percent", "%"),
    ("_years", "years"),
)
_LONGEST_WORD = 40


def unit_of(key: str) -> str:
    """Unit that a key's ending names; empty for a pure number or text."""
    return next((unit for ending, unit in _UNITS if key.endswith(ending)), "")


def with_unit(text: str, key: str) -> str:
    """``"600 m"`` for the value 600 of ``depth_m``."""
    unit = unit_of(key)
    return f"{text} {unit}" if unit else text


def shorten(text: str, length: int = 60) -> str:
    """A text cut for a message, on one line."""
    text = " ".join(text.split())
    return text if len(text) <= length else text[: length - 3] + "..."


def edit_distance(a: str, b: str) -> int:
    """Number of insertions, deletions, replacements and swaps of neighbours that turn a into b.

    Optimal string alignment distance.
    """
    before: list[int] = []
    row = list(range(len(b) + 1))
    for i, ca in enumerate(a, 1):
        after = [i]
        for j, cb in enumerate(b, 1):
            cost = min(row[j] + 1, after[j - 1] + 1, row[j - 1] + (ca != cb))
            if i > 1 and j > 1 and ca == b[j - 2] and a[i - 2] == cb:
                cost = min(cost, before[j - 2] + 1)
            after.append(cost)
        before, row = row, after
    return row[-1]


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that the user probably meant, or None."""
    if not word or len(word) > _LONGEST_WORD:
        return None
    plain = _plain(word)
    best: tuple[int, str] | None = None
    for candidate in known:
        other = _plain(candidate)
        allowed = max(1, min(len(plain), len(other)) // 3)
        if abs(len(plain) - len(other)) > allowed:
            continue
        distance = edit_distance(plain, other)
        if distance <= allowed and (best is None or distance < best[0]):
            best = (distance, candidate)
    return best[1] if best else None


def meant_by(word: str, known: Iterable[str], *, same_digits: bool = False) -> str:
    """``"did you mean 'a'?"``, also of several known words that the given one begins; empty without a guess.

    With ``same_digits`` a guess has the digits of the word, since they name an edition. What the word begins
    is offered as a choice.
    """
    words = list(known)
    bare = _plain(word).replace("_", "")
    same = [w for w in words if bare and _plain(w).replace("_", "") == bare]
    near = nearest(word, [w for w in words if not same_digits or _digits(w) == _digits(word)])
    longer = [w for w in words if len(bare) > 2 and _plain(w).replace("_", "").startswith(bare)]
    found = same[:1] or ([near] if near else longer[:4])
    quoted = [f"'{shorten(w)}'" for w in found]
    return f"did you mean {' or '.join(quoted)}?" if quoted else ""


def _digits(word: str) -> str:
    return "".join(c for c in word if c.isdigit())


def _plain(word: str) -> str:
    return word.lower().replace("-", "_").replace(" ", "_")


def number_advice(text: str, key: str) -> str:
    """What to write instead of a text that should be a number."""
    unit = unit_of(key)
    if re.fullmatch(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?", text):
        return f"leave out the quotes: {text}"
    if re.fullmatch(r"[-+]?\d+,\d+", text):
        return f"use a decimal point: {text.replace(',', '.')}"
    if re.fullmatch(r"[-+]?\d{1,3}([ _'\u00a0\u202f]\d{3})+(\.\d+)?", text):
        return f"write it without separators: {re.sub('[^-+0-9.]', '', text)}"
    match = re.fullmatch(r"([-+]?\d+(?:\.\d+)?)\s*([^\d\s].{0,12})", text)
    if match:
        named = f"; the key says that it is in {unit}" if unit else ""
        return f"write only the number, without '{match[2]}'{named}"
    return f"write a number in {unit}" if unit else "write a number"
