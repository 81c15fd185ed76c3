"""Guard, fields, readings, layers, variants: each by itself."""

import asyncio
import base64
import io
import threading
import zipfile

import numpy as np
import openpyxl
import pytest

from evenground.errors import InputError
from evenground.project import starter_text
from evenground.web._fields import MODELS, field_rows, parse_field, parse_number, shown
from evenground.web._guard import MAX_UPLOAD_BYTES, Guard
from evenground.web._layers import MISSING, _utilisation
from evenground.web._readings import file_text, read_table, reading_values
from evenground.web._variants import forget, keep, kept, variant_folder
from evenground.web._worker import Worker

PORT, KEY = 8000, "the-key-of-this-session"


async def inner(scope, receive, send):
    """An application that reads its body and answers."""
    if scope["type"] == "websocket":
        await send({"type": "websocket.accept"})
        return
    while (await receive()).get("more_body"):
        pass
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"inside"})


def ask(kind="http", method="GET", path="/", query="", body=(), **headers):
    """Status and headers that the guard lets out."""
    sent = []
    chunks = list(body) or [b""]
    heads = {"host": f"127.0.0.1:{PORT}", **{k.replace("_", "-"): v for k, v in headers.items()}}
    scope = {
        "type": kind,
        "method": method,
        "path": path,
        "query_string": query.encode(),
        "headers": [(k.encode(), v.encode()) for k, v in heads.items()],
    }

    async def receive():
        return {"type": "http.request", "body": chunks.pop(0), "more_body": bool(chunks)}

    async def send(message):
        sent.append(message)

    asyncio.run(Guard(inner, port=PORT, key=KEY)(scope, receive, send))
    first = sent[0]
    return first.get("status", first["type"]), dict(first.get("headers", []))


COOKIE = f"evenground-{PORT}={KEY}"
OWN = f"http://127.0.0.1:{PORT}"


def test_the_key_opens_the_page_once_and_moves_into_a_cookie():
    status, headers = ask(query=f"key={KEY}")
    assert status == 303
    assert b"HttpOnly" in headers[b"set-cookie"]
    assert headers[b"location"] == b"/"
    assert ask(cookie=COOKIE)[0] == 200


@pytest.mark.parametrize(
    "request_",
    [
        {},
        {"query": "key=wrong"},
        {"cookie": f"evenground-{PORT}=wrong"},
        {"cookie": COOKIE, "host": "evil.example"},
        {"cookie": COOKIE, "host": f"127.0.0.1.evil.example:{PORT}"},
        {"cookie": COOKIE, "origin": "http://evil.example"},
        {"cookie": COOKIE, "origin": "null"},
        {"cookie": COOKIE, "method": "POST"},
        {"cookie": COOKIE, "method": "POST", "origin": f"http://127.0.0.1:{PORT + 1}"},
    ],
    ids=str,
)
def test_what_does_not_come_from_this_page_is_refused(request_):
    assert ask(**request_)[0] == 403


def test_a_websocket_needs_key_and_origin():
    assert ask("websocket", cookie=COOKIE, origin=OWN)[0] == "websocket.accept"
    for headers in ({"cookie": COOKIE}, {"origin": OWN}, {"cookie": COOKIE, "origin": "http://evil.example"}):
        assert ask("websocket", **headers)[0] == "websocket.close"


def test_a_large_upload_is_refused_whether_announced_or_not():
    own = {"cookie": COOKIE, "origin": OWN, "method": "POST"}
    assert ask(content_length="10", body=[b"0123456789"], **own)[0] == 200
    assert ask(content_length=str(MAX_UPLOAD_BYTES + 1), **own)[0] == 413
    assert ask(content_length="many", **own)[0] == 413
    assert ask(body=[b"x" * (MAX_UPLOAD_BYTES // 2)] * 3, **own)[0] == 413


def test_every_answer_forbids_what_is_outside():
    policy = ask(cookie=COOKIE)[1][b"content-security-policy"].decode()
    assert "default-src 'self'" in policy
    assert "http" not in policy.replace("ws://", "")


def test_numbers_as_people_type_them():
    assert [parse_number(t) for t in ("5", " 0.50", "1e3", "−2.5", "12 000")] == [5, 0.5, 1000, -2.5, 12000]
    with pytest.raises(InputError, match=r"with a point, as 0\.5"):
        parse_number("0,5")
    for wrong in ("", "five", "1.2.3", "nan", "inf", "0x10", "5 m"):
        with pytest.raises(InputError, match="not a number"):
            parse_number(wrong)


def test_fields_come_from_the_schema_with_their_units():
    rows = {r.key: r for r in field_rows(MODELS["faults"])}
    assert (rows["current_ka"].unit, rows["current_ka"].kind) == ("kA", "number")
    assert rows["kind"].choices == ("single", "double")
    assert rows["decrement"].kind == "yes"
    assert "sequence" not in rows
    mats = {r.key: r for r in field_rows(MODELS["mats"])}
    corners = [[0, 0], [5.5, 0], [5.5, -4]]
    assert shown(mats["outline_m"], corners) == "0 0; 5.5 0; 5.5 -4"
    assert parse_field(mats["outline_m"], "0 0; 5.5, 0; (5.5 -4)") == corners
    assert parse_field(mats["lines_x_m"], shown(mats["lines_x_m"], [0, 2.5])) == [0, 2.5]
    assert parse_field(rows["current_ka"], " ") is None


@pytest.mark.parametrize(
    ("text", "array", "first"),
    [
        ("1\t40.67\n2\t18.5\n", "wenner", {"spacing_m": 1, "resistance_ohm": 40.67}),
        ("a,R\n1,40.67\n", "wenner", {"spacing_m": 1, "resistance_ohm": 40.67}),
        (
            "Spacing (m);Voltage;Current\n1,5;4,08;0,1\n",
            "wenner",
            {"spacing_m": 1.5, "voltage_v": 4.08, "current_a": 0.1},
        ),
        ("1 40.67\n2  18.5", "wenner", {"spacing_m": 1, "resistance_ohm": 40.67}),
        (
            "AB/2\tMN/2\tR\n10\t1\t0.729\n",
            "schlumberger",
            {"half_current_spacing_m": 10, "half_potential_spacing_m": 1, "resistance_ohm": 0.729},
        ),
    ],
)
def test_readings_from_a_spreadsheet(text, array, first):
    assert read_table(text, array)[0] == first


@pytest.mark.parametrize("text", ["", "\n\n", "1\tx\n", "hello world", "1\t2\n3\tfour\n", "a" * 2_000_000])
def test_readings_that_can_not_be_read_are_refused_whole(text):
    with pytest.raises(InputError, match=r"line|no readings|no column|too long"):
        read_table(text, "wenner")


def workbook(*sheets):
    """A workbook with these sheets of rows."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for n, rows in enumerate(sheets):
        sheet = book.create_sheet(f"part {n}")
        for row in rows:
            sheet.append(row)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def test_readings_from_a_workbook_with_a_title_and_an_empty_sheet():
    rows = [
        ["Sounding T1"],
        [],
        ["Spacing (m)", None, "Resistance (Ω)"],
        [1, "dry", 40.67],
        [2.5, "", "18,5"],
    ]
    text = file_text(workbook(rows, []), "T1.XLSX")
    first, second = read_table(text, "wenner")
    assert first == {"spacing_m": 1, "resistance_ohm": 40.67}
    assert second == {"spacing_m": 2.5, "resistance_ohm": 18.5}
    wrong = file_text(workbook([["a", "R"], [1, "x"]]), "T1.xlsx")
    with pytest.raises(InputError, match="line 2: “x” is not a number"):
        read_table(wrong, "wenner")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"no workbook", "can not be read as a workbook"),
        (workbook([[1, 2]], [[3, 4]]), "2 sheets with cells: part 0, part 1"),
        (workbook([]), "holds no cells"),
    ],
)
def test_a_workbook_that_is_not_one_table_is_refused(data, words):
    with pytest.raises(InputError, match=words):
        file_text(data, "T1.xlsx")


def test_a_workbook_that_unpacks_to_too_much_is_refused():
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/sharedStrings.xml", b" " * 41_000_000)
    with pytest.raises(InputError, match="too large"):
        file_text(file.getvalue(), "T1.xlsx")


def test_text_files_of_either_encoding():
    assert file_text("Ω;a\n".encode("utf-8-sig"), "x.csv") == "Ω;a\n"
    assert file_text("Tiefe ü\n".encode("latin-1"), "x.csv") == "Tiefe ü\n"


def test_a_table_row_keeps_what_the_table_does_not_show():
    row = {"spacing_m": "2", "resistance_ohm": "18.5", "voltage_v": "", "use": False, "rest": {"note": "wet"}}
    assert reading_values([row], "wenner") == [
        {"note": "wet", "spacing_m": 2, "resistance_ohm": 18.5, "use": False}
    ]


def test_the_limit_line_lies_where_the_value_meets_the_limit():
    """A cone of utilisation r / 10 m: the limit line is the circle of radius 10 m."""
    x = y = np.linspace(-15, 15, 121)
    gx, gy = np.meshgrid(x, y)
    values = np.hypot(gx, gy) / 10
    values[np.hypot(gx, gy) > 14] = np.nan
    layer = _utilisation(x, y, values)
    numbers = np.array([float(v) for v in layer["limit"].replace("M", " ").replace("L", " ").split()])
    radii = np.hypot(numbers[0::2], numbers[1::2])
    # linear interpolation on a raster of 0.25 m at radius 10 m: sagitta 0.25**2/80 m; 0.01 m rounding
    assert radii == pytest.approx(np.full(len(radii), 10.0), abs=0.02)
    raster = layer["raster"]
    back = np.frombuffer(base64.b64decode(raster["data"]), "<u2").reshape(raster["ny"], raster["nx"])
    assert ((back == MISSING) == np.isnan(values)).all()
    known = back != MISSING
    assert back[known] / 1000 == pytest.approx(values[known], abs=6e-4)


def test_variants_stay_in_their_folder(tmp_path):
    file = tmp_path / "site.yaml"
    file.write_text(starter_text("plant"))
    keep(file, "denser mesh", file.read_text())
    assert [v.name for v in kept(file)] == ["denser mesh"]
    with pytest.raises(InputError, match="already"):
        keep(file, "denser mesh", "x: 1")
    for name in ("", "../out", "a/b", "a\\b", ".hidden", "x" * 80, "a."):
        with pytest.raises(InputError, match="no slash"):
            keep(file, name, "x: 1")
    outside = tmp_path / "outside.yaml"
    outside.write_text("x: 1")
    (variant_folder(file) / "link.yaml").symlink_to(outside)
    assert [v.name for v in kept(file)] == ["denser mesh"]
    forget(file, "denser mesh")
    assert kept(file) == ()


def test_a_newer_job_stops_the_one_before_and_a_refusal_comes_in_words():
    """A real process: the first study is overtaken, the second one's errors arrive as findings."""
    heard, done = [], threading.Event()

    def report(number, word, payload):
        heard.append((number, word, payload))
        if word == "refused":
            done.set()

    worker = Worker(report)
    try:
        worker.submit("study", starter_text("plant"), "site.yaml")
        second = worker.submit("study", "evenground: 1\n", "site.yaml")
        # importing the numeric libraries in a fresh process on a busy machine
        assert done.wait(60)
    finally:
        worker.close()
    assert [n for n, word, _ in heard if word == "done"] == []
    number, _, (findings, failure) = next(row for row in heard if row[1] == "refused")
    assert number == second
    assert failure == ""
    assert any("soil" in f.message or "soil" in f.field for f in findings)


def test_a_study_in_the_page_finds_the_files_that_the_project_names(tmp_path):
    """A readings file lies beside the project file, as for the command line."""
    text = starter_text("plant")
    given = text[text.index("soil:") : text.index("faults:")]
    table = (
        "soil:\n  traverses:\n    - name: T1\n      array: wenner\n"
        "      readings_file:\n        file: t1.csv\n"
        "        columns: {spacing: {column: a, unit: m}, resistance: {column: R, unit: ohm}}\n\n"
    )
    rows = "\n".join(f"{a},{100 / (2 * np.pi * a):.5f}" for a in (1, 2, 3, 4, 6, 8))
    (tmp_path / "t1.csv").write_text(f"a,R\n{rows}\n")
    told, done = [], threading.Event()

    def report(number, word, payload):
        told.append((word, payload))
        if word in ("done", "refused"):
            done.set()

    worker = Worker(report)
    try:
        worker.submit("study", text.replace(given, table), str(tmp_path / "site.yaml"), False)
        assert done.wait(60)
    finally:
        worker.close()
    word, payload = told[-1]
    assert word == "done"
    # equal readings: a uniform soil of 100 ohm m by the definition of the apparent resistivity
    assert payload[0].soil.soil.resistivities_ohm_m[0] == pytest.approx(100, rel=1e-3)
