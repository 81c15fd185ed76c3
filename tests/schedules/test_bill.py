"""Bill, prices and carbon against sums by hand."""

import pytest

from evenground.errors import InputError
from evenground.schedules import build_schedules, parse_prices, read_prices, starter_prices_text

ROUNDING = 1e-9

PRICES = """
currency: XTS
date: 2026-02-01
status: quoted
source: quotation Q-1 (invented)
labour_rate_per_h: 40
items:
  metal.copper: {unit: kg, price: 10, waste: 0.1, carbon_kg_per_unit: 2, carbon_source: round figure}
  metal.copper-clad steel: {unit: kg, price: 4, carbon_kg_per_unit: 1, carbon_source: round figure}
  lay.conductor: {unit: m, price: 0, labour_h: 0.1}
  rod.drive: {unit: m, price: 1, labour_h: 0.5}
  rod.coupling: {unit: each, price: 5}
  joint.exothermic: {unit: each, price: 10, labour_h: 0.5}
  joint.compression: {unit: each, price: 8, labour_h: 0.25}
  trench.dig: {unit: m3, price: 20}
  trench.backfill: {unit: m3, price: 5}
  trench.imported: {unit: m3, price: 30, waste: 0.2}
  cover.spread: {unit: m3, price: 50}
  pit.inspection: {unit: each, price: 200, labour_h: 2}
"""


@pytest.fixture(scope="module")
def bill(small):
    return build_schedules(small, parse_prices(PRICES)).table("bill")


def line(bill, words):
    row = next(r for r in bill.rows if words in r[2])
    return dict(zip([c.key for c in bill.columns], row, strict=True))


def test_copper_by_hand(bill):
    """110 m of 0.8455 kg/m, 10 % waste, 10 per kg, carbon 2 per kg."""
    row = line(bill, "(mat)")
    assert row["gross"] == pytest.approx(121, rel=ROUNDING)
    assert row["material"] == pytest.approx(121 * 0.8455 * 10, rel=ROUNDING)
    assert row["carbon"] == pytest.approx(121 * 0.8455 * 2, rel=ROUNDING)


def test_joints_rods_and_filling_by_hand(bill):
    tee = line(bill, "Joint, tee")
    assert (tee["quantity"], tee["material"], tee["labour"]) == (8, 80, 8 * 0.5 * 40)
    assert line(bill, "couplings")["material"] == 20
    assert line(bill, "Driving")["cost"] == pytest.approx(6.4 * (1 + 0.5 * 40), rel=ROUNDING)
    dug = 44.0 + 0.8
    assert line(bill, "excavated soil")["quantity"] == pytest.approx(0.75 * dug, rel=ROUNDING)
    assert line(bill, "imported")["material"] == pytest.approx(0.25 * dug * 1.2 * 30, rel=ROUNDING)
    assert line(bill, "“yard”")["material"] == pytest.approx(26.4 * 50, rel=ROUNDING)


def test_totals_are_sums(bill):
    assert bill.total("cost") == pytest.approx(bill.total("material") + bill.total("labour"), rel=ROUNDING)
    assert bill.total("carbon") > 0
    assert "leaves out" in " ".join(bill.notes)


def test_a_missing_price_leaves_the_total_open(small):
    text = "\n".join(row for row in PRICES.splitlines() if "rod.coupling" not in row)
    bill = build_schedules(small, parse_prices(text)).table("bill")
    assert line(bill, "couplings")["cost"] is None
    assert bill.total("cost") is None
    assert "No price for rod.coupling" in " ".join(bill.notes)


def test_without_prices_there_are_quantities_only(small):
    bill = build_schedules(small).table("bill")
    assert [c.key for c in bill.columns][-1] == "unit"
    assert all(row[3] > 0 for row in bill.rows)


def test_the_shipped_prices_say_that_they_are_placeholders(small):
    prices = parse_prices(starter_prices_text())
    assert prices.status == "placeholder"
    bill = build_schedules(small, prices).table("bill")
    assert "NOT AN ESTIMATE" in bill.title
    assert bill.total("cost") is not None
    assert all(item.carbon_source for item in prices.items.values() if item.carbon_kg_per_unit is not None)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("currency: XTS", "curency: XTS", "curency: unknown key"),
        ("price: 10,", "price: ten,", "expected a number from 0 up"),
        ("price: 10,", "price: -1,", "expected a number from 0 up"),
        ("price: 10,", "price: .nan,", "expected a number from 0 up"),
        ("price: 10,", "price: true,", "expected a number from 0 up"),
        (", carbon_source: round figure", "", "needs its source"),
        ("status: quoted", "status: fine", "neither placeholder nor quoted"),
        ("items:", "items: 3\nothers:", "at least one item"),
        ("items:", "items: [", "not readable as YAML"),
        ("date: 2026-02-01", "date: 2026-13-45", "not readable as YAML"),
        ("items:", "a: &a [1]\nb: *a\nitems:", "aliases are not used"),
        ("{unit: m, price: 0, labour_h: 0.1}", "5", "expected unit, price"),
    ],
)
def test_slips_in_price_lists_are_named(old, new, message):
    assert old in PRICES
    with pytest.raises(InputError, match=message):
        parse_prices(PRICES.replace(old, new))


def test_every_slip_is_reported_at_once():
    with pytest.raises(InputError) as caught:
        parse_prices(PRICES.replace("price: 10", "price: x").replace("unit: each", "unit: "))
    assert len(caught.value.findings) >= 5


def test_price_files_that_can_not_be_read(tmp_path):
    with pytest.raises(InputError, match="No such file"):
        read_prices(tmp_path / "none.yaml")
    (tmp_path / "bad.yaml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="not text"):
        read_prices(tmp_path / "bad.yaml")
    (tmp_path / "list.yaml").write_text("- 1\n")
    with pytest.raises(InputError, match="expected keys"):
        read_prices(tmp_path / "list.yaml")
    (tmp_path / "good.yaml").write_text(PRICES)
    assert read_prices(tmp_path / "good.yaml").date == "2026-02-01"
