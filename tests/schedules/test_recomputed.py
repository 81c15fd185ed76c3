"""Every formula of the workbook evaluated anew, by the meaning that ISO/IEC 29500-1 (SpreadsheetML) gives to
the few functions used, from the file as openpyxl reads it; LibreOffice is a further check where it is
installed."""

import math

import openpyxl
import pytest
from openpyxl.formula import Tokenizer
from openpyxl.formula.tokenizer import Token

from evenground.schedules import build_schedules, parse_prices, starter_prices_text, write_xlsx

OPERATORS = {"^": "**", "=": "==", "<>": "!=", "&": "+"}


class Blank:
    """An empty cell: equal to no text."""

    def __eq__(self, other):
        return other == ""

    __hash__ = None


class Book:
    """A workbook whose formulas are computed when they are asked for."""

    def __init__(self, file):
        self.book = openpyxl.load_workbook(file)
        self.done = {}

    def value(self, sheet, place):
        key = sheet, place
        if key not in self.done:
            raw = self.book[sheet][place].value
            is_formula = isinstance(raw, str) and raw.startswith("=")
            self.done[key] = self.formula(sheet, raw) if is_formula else Blank() if raw is None else raw
        return self.done[key]

    def area(self, sheet, place):
        if ":" not in place:
            return [self.value(sheet, place.replace("$", ""))]
        return [self.value(sheet, cell.coordinate) for row in self.book[sheet][place] for cell in row]

    def operand(self, sheet, token):
        if token.subtype != Token.RANGE:
            return token.value if token.subtype == Token.NUMBER else repr(token.value[1:-1])
        if token.value in self.book.defined_names:
            sheet, token_value = next(self.book.defined_names[token.value].destinations)
            return f"one({sheet!r}, {token_value!r})"
        return f"{'area' if ':' in token.value else 'one'}({sheet!r}, {token.value!r})"

    def formula(self, sheet, text):
        """Python's own arithmetic does the work: the formula becomes an expression, IF a lazy choice."""
        parts, open_functions = [], []
        for token in Tokenizer(text).items:
            if token.type == Token.OPERAND:
                parts.append(self.operand(sheet, token))
            elif token.type in (Token.FUNC, Token.PAREN) and token.subtype == Token.OPEN:
                open_functions.append(token.value)
                parts.append("IF(lambda: " if token.value == "IF(" else token.value)
            elif token.type in (Token.FUNC, Token.PAREN):
                open_functions.pop()
                parts.append(")")
            elif token.type == Token.SEP:
                parts.append(", lambda: " if open_functions[-1] == "IF(" else ", ")
            else:
                parts.append(OPERATORS.get(token.value, token.value))
        names = {"one": lambda s, p: self.area(s, p)[0], "area": self.area}
        return eval("".join(parts), FUNCTIONS | names)


def choose(test, yes, no):
    return yes() if test() else no()


FUNCTIONS = {
    "IF": choose,
    "SQRT": math.sqrt,
    "OR": lambda *tests: any(tests),
    "SUM": lambda cells: sum(c for c in cells if isinstance(c, int | float)),
    "COUNTBLANK": lambda cells: sum(isinstance(c, Blank) or c == "" for c in cells),
}


def formulas(book):
    for sheet in book.book:
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, str) and cell.value.startswith("="):
                    yield sheet.title, cell.coordinate


@pytest.mark.parametrize("priced", [True, False])
def test_every_stored_value_is_the_value_of_its_formula(small, tmp_path, priced):
    file = tmp_path / "a.xlsx"
    schedules = build_schedules(small, parse_prices(starter_prices_text()) if priced else None)
    write_xlsx(schedules.tables, file, title=schedules.title)
    book, stored = Book(file), openpyxl.load_workbook(file, data_only=True)
    count = 0
    for sheet, place in formulas(book):
        count += 1
        ours, computed = stored[sheet][place].value, book.value(sheet, place)
        if isinstance(ours, int | float):
            # the same operations in double precision, in an order that is not ours
            assert computed == pytest.approx(ours, rel=1e-9, abs=1e-9), (sheet, place)
        else:
            assert computed == (ours or ""), (sheet, place)
    assert count > (40 if priced else 10)


def test_labour_follows_a_changed_rate(small, tmp_path):
    """Arithmetic: labour is hours times rate, so twice the rate is twice the labour of every line."""
    file = tmp_path / "a.xlsx"
    schedules = build_schedules(small, parse_prices(starter_prices_text()))
    write_xlsx(schedules.tables, file)
    bill = schedules.table("bill")
    columns = [c.key for c in bill.columns]
    before = Book(file)
    head = next(c.row for c in before.book["bill"]["B"] if c.value == "Item")
    last = head + len(bill.rows)

    def cell(key, row):
        return before.book["bill"].cell(row, columns.index(key) + 1).coordinate

    changed = openpyxl.load_workbook(file)
    rate = changed.defined_names["bill_rate"].destinations
    sheet, place = next(rate)
    changed[sheet][place.replace("$", "")].value *= 2
    changed.save(tmp_path / "b.xlsx")
    after = Book(tmp_path / "b.xlsx")
    rows = [
        r for r in range(head + 1, last + 1) if isinstance(before.value("bill", cell("labour", r)), float)
    ]
    assert rows
    for row in rows:
        old, new = (book.value("bill", cell("labour", row)) for book in (before, after))
        assert new == pytest.approx(2 * old, rel=1e-12)  # a factor of 2 is exact but for rounding of the sum
