"""Workbook and CSV, opened by another library, formulas worked out anew."""

import csv
import io
import math
import re
import zipfile

import openpyxl
import pytest

from evenground.schedules import (
    Column,
    Table,
    build_schedules,
    csv_text,
    parse_prices,
    starter_prices_text,
    write_schedules,
    xlsx_bytes,
)

SAME = 1e-12
"""The same few operations in the same order."""


@pytest.fixture(scope="module")
def schedules(small):
    return build_schedules(small, parse_prices(starter_prices_text()))


@pytest.fixture(scope="module")
def books(schedules):
    data = xlsx_bytes(schedules.tables)
    return (
        openpyxl.load_workbook(io.BytesIO(data)),
        openpyxl.load_workbook(io.BytesIO(data), data_only=True),
    )


class Evaluator:
    """Works out the formulas of a workbook from its plain cells: arithmetic, IF, OR, SUM, SQRT, COUNTBLANK,
    comparison, names and ranges. Written for this test; knows nothing of how the formulas were made."""

    def __init__(self, book):
        self.book = book

    def cell(self, sheet, place):
        value = sheet[place].value
        if isinstance(value, str) and value.startswith("="):
            return self.formula(sheet, value[1:])
        return "" if value is None else value

    def area(self, sheet, text):
        return [self.cell(sheet, c.coordinate) for row in sheet[text] for c in row]

    def formula(self, sheet, text):
        strings = []

        def keep(match):
            strings.append(match.group(1))
            return f"S[{len(strings) - 1}]"

        code = re.sub(r'"([^"]*)"', keep, text)
        for name, defined in self.book.defined_names.items():
            target, place = defined.attr_text.replace("$", "").rsplit("!", 1)
            code = code.replace(name, f"C({target.strip(chr(39))!r},{place!r})")
        code = re.sub(r"(?<!')\b([A-Z]{1,3}\d+):([A-Z]{1,3}\d+)\b", r"A('\1:\2')", code)
        code = re.sub(r"(?<![':A-Z\d])([A-Z]{1,3}\d+)(?![\d':(])", r"V('\1')", code)
        code = code.replace("^", "**").replace("=", "==").replace(">==", ">=")
        code = re.sub(r"\b(IF|OR|SUM|SQRT|COUNTBLANK)\(", r"F_\1(", code)
        # arguments of IF are put off, as a spreadsheet does
        return eval(self._lazy(code), {"__builtins__": {}}, self._names(sheet, strings))

    def _lazy(self, code):
        out, i = "", 0
        while True:
            k = code.find("F_IF(", i)
            if k < 0:
                return out + code[i:]
            depth, parts, start, j = 1, [], k + 5, k + 5
            while depth:
                if code[j] == "(":
                    depth += 1
                elif code[j] == ")":
                    depth -= 1
                if depth == 0 or (code[j] == "," and depth == 1):
                    parts.append(code[start:j])
                    start = j + 1
                j += 1
            assert len(parts) == 3
            a, b, c = (self._lazy(p) for p in parts)
            out += code[i:k] + f"(({b}) if ({a}) else ({c}))"
            i = j

    def _names(self, sheet, strings):
        return {
            "S": strings,
            "V": lambda place: self.cell(sheet, place),
            "C": lambda name, place: self.cell(self.book[name], place),
            "A": lambda text: self.area(sheet, text),
            "F_OR": lambda *values: any(values),
            "F_SUM": lambda values: math.fsum(v for v in values if not isinstance(v, str)),
            "F_SQRT": math.sqrt,
            "F_COUNTBLANK": lambda values: sum(v == "" for v in values),
        }


def formulas(book):
    return [
        (sheet, cell)
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, str) and cell.value.startswith("=")
    ]


def test_every_formula_gives_the_value_stored_with_it(books):
    book, values = books
    evaluator = Evaluator(book)
    found = formulas(book)
    assert len(found) > 100
    for sheet, cell in found:
        stored = values[sheet.title][cell.coordinate].value
        worked = evaluator.formula(sheet, cell.value[1:])
        if isinstance(worked, str):
            assert (stored or "") == worked, (sheet.title, cell.coordinate)
        else:
            assert stored == pytest.approx(worked, rel=SAME, abs=1e-12), (sheet.title, cell.coordinate)


def test_the_bill_follows_a_changed_price_and_rate(books, schedules):
    """Double one price and the labour rate in the workbook; the total moves by just that."""
    book, _ = books
    sheet = book["bill"]
    head = next(r for r in sheet.iter_rows() if r[0].value == "Line")
    columns = {c.value: c.column_letter for c in head}
    total = next(r[0].row for r in sheet.iter_rows() if r[0].value == "Total")
    evaluator = Evaluator(book)
    place = f"{columns['Cost']}{total}"
    before = evaluator.cell(sheet, place)
    bill = schedules.table("bill")
    assert before == pytest.approx(bill.total("cost"), rel=1e-12)
    first = head[0].row + 1
    price = sheet[f"{columns['Price']}{first}"]
    old_price, old_rate = price.value, sheet["C3"].value
    try:
        price.value = 2 * old_price
        assert evaluator.cell(sheet, place) - before == pytest.approx(bill.rows[0][10], rel=1e-9)
        price.value = old_price
        sheet["C3"].value = 2 * old_rate
        assert evaluator.cell(sheet, place) - before == pytest.approx(bill.total("labour"), rel=1e-9)
        price.value = None
        assert evaluator.cell(sheet, place) == "not decided"
    finally:
        price.value, sheet["C3"].value = old_price, old_rate


def test_the_evaluator_of_this_test_is_itself_right():
    """Against sums in the head, so that the tests above can fail."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet["A1"], sheet["A2"], sheet["B1"] = 3, 4, None
    cases = {
        "SQRT(A1^2+A2^2)": 5,
        'IF(B1="","none",1/A1)': "none",
        "IF(OR(A1=3,B1=1),A1*(1+A2),0)": 15,
        'IF(COUNTBLANK(A1:B2)>1,"not decided",SUM(A1:A2))': "not decided",
        'IF(COUNTBLANK(A1:A2)>0,"not decided",SUM(A1:A2))': 7,
    }
    for text, expected in cases.items():
        assert Evaluator(book).formula(sheet, text) == expected


def test_sheets_and_csv_files_carry_the_same_rows(schedules, books, tmp_path):
    book, _ = books
    assert book.sheetnames == [t.name for t in schedules.tables]
    files = write_schedules(schedules, tmp_path)
    assert {f.name for f in files} == {"schedules.xlsx", *(f"{t.name}.csv" for t in schedules.tables)}
    for table in schedules.tables:
        with (tmp_path / f"{table.name}.csv").open(encoding="utf-8", newline="") as file:
            rows = list(csv.reader(file))
        assert rows[0] == [c.heading for c in table.columns]
        assert len(rows) == 1 + len(table.rows)
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(f.name for f in files)


def test_the_same_design_gives_the_same_bytes(designs):
    prices = parse_prices(starter_prices_text())
    first, second = (xlsx_bytes(build_schedules(designs.small(), prices).tables) for _ in range(2))
    assert first == second
    with zipfile.ZipFile(io.BytesIO(first)) as book:
        assert {i.date_time for i in book.infolist()} == {(1980, 1, 1, 0, 0, 0)}


@pytest.mark.parametrize("text", ["=1+1", "+cmd", "-2", "@SUM(A1)", "\t=1"])
def test_text_is_never_a_formula(text):
    table = Table("t", "t", (Column("a", "A"),), ((text,),))
    assert csv_text(table).splitlines()[1].lstrip('"').startswith("'")
    cell = openpyxl.load_workbook(io.BytesIO(xlsx_bytes([table])))["t"]["A4"]
    assert cell.data_type == "s"


def test_a_failed_write_leaves_the_earlier_file(schedules, tmp_path, monkeypatch):
    write_schedules(schedules, tmp_path)
    before = (tmp_path / "schedules.xlsx").read_bytes()

    def fail(*args):
        raise OSError("disk full")

    monkeypatch.setattr("evenground.schedules._files.os.fsync", fail)
    with pytest.raises(OSError, match="disk full"):
        write_schedules(schedules, tmp_path)
    assert (tmp_path / "schedules.xlsx").read_bytes() == before
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".")]


def test_rows_of_wrong_width_are_refused():
    with pytest.raises(ValueError, match="needs 1 cells"):
        Table("t", "t", (Column("a", "A"),), ((1, 2),))


def test_pieces_are_whole_numbers_in_the_workbook():
    """ "14.000 each" reads like fourteen thousand where the comma is the decimal sign (common practice)."""
    columns = (Column("what", "What"), Column("quantity", "Quantity", places=3))
    table = Table("q", "Quantities", columns, (("rods", 14), ("strand", 566.0)))
    sheet = openpyxl.load_workbook(io.BytesIO(xlsx_bytes([table]))).worksheets[0]
    formats = {row[0].value: row[1].number_format for row in sheet.iter_rows() if row[0].value}
    assert (formats["rods"], formats["strand"]) == ("#,##0", "#,##0.000")
