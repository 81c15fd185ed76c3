"""Write the tables of docs/limits.md from the register; ``python docs/limits_tables.py``."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

from evenground.standards.limits import STANDARDS, country_rules

PAGE = Path(__file__).with_name("limits.md")


def tables() -> dict[str, str]:
    """Text of each table by the name in its marker."""
    standards = "\n".join(f"| `{e.key}` | {e.title} | {e.edition} | {e.basis} |" for e in STANDARDS.values())
    count = Counter(rule.country for rule in country_rules())
    countries = ";\n".join(f"{name} {number}" for name, number in sorted(count.items())) + "."
    head = "| Key | What | Edition | Rests on |\n|---|---|---|---|\n"
    return {"standards": head + standards, "countries": countries}


def page(text: str) -> str:
    """The page with its tables made new."""
    for name, body in tables().items():
        pattern = rf"<!-- table: {name} -->.*?<!-- end of table -->"
        lines = f"<!-- table: {name} -->\n\n{body}\n\n<!-- end of table -->"
        text, found = re.subn(pattern, lambda _, new=lines: new, text, flags=re.DOTALL)
        if found != 1:
            raise SystemExit(f"{PAGE}: marker of table {name!r} found {found} times")
    return text


if __name__ == "__main__":
    PAGE.write_text(page(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
    print(f"{PAGE} written")
