"""Many sites on paper: the ranking with a map, then one page for each site."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from evenground.deliver._figure import figure_bytes
from evenground.deliver._plot_sites import map_figure
from evenground.deliver.format import format_percent, format_quantity
from evenground.deliver.sitetest_sheets import sheet_data, sheets_pdf
from evenground.model.sitetest import FieldSheet, SheetTable

if TYPE_CHECKING:
    from evenground.search import SiteCheck, SiteResult, SiteRow

__all__ = ["sites_pdf", "sites_plots"]

MOST_CHECKS = 24
"""Checks on the page of a site, those with the smallest margin after the change."""
LONGEST = 240
"""Characters of a reason on the page of a site."""
EMPTY = "–"


def sites_plots(rows: Sequence[SiteRow], change: str, kind: str = "svg") -> dict[str, bytes]:
    """The map by file name, when a site states where it is; ``kind`` is ``"svg"`` or ``"png"``."""
    if not any(r.at_deg for r in rows):
        return {}
    return {f"map.{kind}": figure_bytes(map_figure(rows, change), kind)}


def sites_pdf(rows: Sequence[SiteRow], change: str) -> bytes:
    """Ranking with the map, and a page for each site, the worst first."""
    plots = sites_plots(rows, change)
    sheets = [sheet_data(s, sign=False) for s in (_ranking(rows, change), *(_site(r, change) for r in rows))]
    sheets[0]["picture"] = "map.svg" if plots else None
    return sheets_pdf(f"Sites, {change}", f"{len(rows)} sites", sheets, plots)


def _ranking(rows: Sequence[SiteRow], change: str) -> FieldSheet:
    table = tuple(
        (
            str(k),
            r.site,
            r.before.verdict,
            r.after.verdict,
            _percent(r.before.margin),
            _percent(r.after.margin),
            _short(r.after.failing or r.after.reason or r.after.governing, 90),
        )
        for k, r in enumerate(rows, 1)
    )
    heads = ("rank", "site", "as stated", "changed", "margin", "changed", "fails, open or governing")
    turned = sum(r.turned for r in rows)
    missing = [r.site for r in rows if r.at_deg is None]
    after = [f"Not on the map, no coordinates stated or the file could not be read: {', '.join(missing)}"]
    return FieldSheet(
        "Ranking",
        f"Every site by a full study, as stated and with the change ({change}); the worst after it first",
        (f"{turned} of {len(rows)} sites come to another verdict",),
        (SheetTable("Sites", heads, table),),
        tuple(after) if missing else (),
    )


def _site(row: SiteRow, change: str) -> FieldSheet:
    before, after = row.before, row.after
    lines = [f"Project file: {row.site}"]
    if row.at_deg is not None:
        lines.append(f"Latitude {row.at_deg[0]:.5g}°, longitude {row.at_deg[1]:.5g}°")
    if after.reason:
        lines.append(f"{after.verdict}: {_short(after.reason, LONGEST)}")
    tables = [SheetTable("Key figures", ("what", "as stated", "changed"), _figures(before, after))]
    checks = sorted(after.checks, key=_order)
    if checks:
        tables.append(_checks(checks[:MOST_CHECKS], before))
    left = len(checks) - MOST_CHECKS
    more = (f"{left} further checks have no smaller margin; see the study of the site",) if left > 0 else ()
    turned = f"{before.verdict} as stated, {after.verdict} with the change ({change})"
    return FieldSheet(row.title or row.site, turned, tuple(lines), tuple(tables), more)


def _figures(before: SiteResult, after: SiteResult) -> tuple[tuple[str, ...], ...]:
    both = before, after
    return (
        ("Verdict", before.verdict, after.verdict),
        ("Smallest margin", *(_percent(r.margin) for r in both)),
        ("Touch voltage over its limit", *(_percent(r.touch_over_limit) for r in both)),
        ("Step voltage over its limit", *(_percent(r.step_over_limit) for r in both)),
        ("Resistance to earth", *(_quantity(r.resistance_ohm, "ohm") for r in both)),
        ("Highest potential rise", *(_quantity(r.gpr_v, "V") for r in both)),
    )


def _order(check: SiteCheck) -> tuple[int, float]:
    rank = {"fail": 0, "not decided": 1}.get(check.verdict, 2)
    return rank, check.margin if check.margin is not None else float("inf")


def _checks(checks: Sequence[SiteCheck], before: SiteResult) -> SheetTable:
    earlier = {c.title: c for c in before.checks}
    rows = tuple(
        (
            c.title,
            _percent(earlier[c.title].margin) if c.title in earlier else EMPTY,
            _percent(c.margin),
            _quantity(c.value, c.unit),
            _quantity(c.limit, c.unit),
            c.verdict,
        )
        for c in checks
    )
    heads = ("check", "margin as stated", "margin", "value", "limit", "verdict")
    return SheetTable("Checks with the change, the smallest margin first", heads, rows)


def _percent(value: float | None) -> str:
    return EMPTY if value is None else format_percent(value)


def _quantity(value: float | None, unit: str) -> str:
    return EMPTY if value is None else format_quantity(value, unit)


def _short(text: str, longest: int) -> str:
    return text if len(text) <= longest else text[: longest - 1].rstrip() + "…"
