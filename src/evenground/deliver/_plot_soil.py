"""The sounding curve: readings, candidate models and residuals."""

from __future__ import annotations

from math import exp, isfinite
from typing import TYPE_CHECKING, Any

from evenground.deliver._figure import INK, PALE, stacked_axes, styled, wrapped

if TYPE_CHECKING:
    from evenground.model.soil import ApparentReading, SoilResult

__all__ = ["sounding_figure"]

MARKERS = "os^DvPXd<>"
SHADES = ("#1f4e79", "#b35900", "#3f3f3f", "#6a3d7c", "#2e6b2e")
DASHES = ((0, (5, 2)), (0, (1, 1.5)), (0, (6, 2, 1, 2)), (0, (3, 1, 1, 1, 1, 1)))


@styled
def sounding_figure(soil: SoilResult) -> Any:
    """Apparent resistivity against spacing, both logarithmic, with residuals below.

    Every traverse has its own marker; a reading left out of the fit is hollow. The chosen model is
    the bold line. The abscissa is the Wenner spacing a, the Schlumberger half spacing AB/2
    or the length of a driven rod.
    """
    title = wrapped("Sounding curve", f"model used: {soil.soil.describe()}")
    below = 0.5 if soil.noise is None else 0.66
    figure, upper, lower = stacked_axes((3.2, 1.0), title, 0, below)
    _curves(upper, soil)
    _readings(upper, soil)
    _residuals(lower, soil)
    _dress(upper, lower, soil)
    return figure


def _traverses(soil: SoilResult) -> list[tuple[str, str, str]]:
    names = dict.fromkeys(row.traverse for row in soil.readings)
    return [(name, MARKERS[i % len(MARKERS)], SHADES[i % len(SHADES)]) for i, name in enumerate(names)]


def _curves(axes: Any, soil: SoilResult) -> None:
    rms = {row.name: row.rms for row in soil.candidates}
    others = 0
    if soil.spread is not None and soil.spread.band_ohm_m:
        axes.fill_between(
            soil.curve_positions_m,
            *soil.spread.band_ohm_m,
            color="#cfcfcf",
            lw=0,
            zorder=1,
            label="95 % band of the Wenner curve",
        )
    for name, values in soil.curves_ohm_m.items():
        quality = f", rms {100 * rms[name]:.1f} %" if name in rms else ""
        if name == soil.chosen:
            axes.plot(
                soil.curve_positions_m,
                values,
                color=INK,
                lw=2.4,
                zorder=3,
                label=f"{name}{quality} (chosen)",
            )
        elif name.startswith(f"{soil.chosen},"):  # the chosen model for another array
            axes.plot(
                soil.curve_positions_m, values, color=INK, lw=1.9, ls=(0, (7, 1.5)), zorder=3, label=name
            )
        elif not name.endswith(", driven rod"):  # of the models that were not chosen one curve is enough
            axes.plot(
                soil.curve_positions_m,
                values,
                color="#555555",
                lw=1.1,
                ls=DASHES[others % len(DASHES)],
                zorder=2,
                label=f"{name}{quality}",
            )
            others += 1


def _readings(axes: Any, soil: SoilResult) -> None:
    for name, marker, shade in _traverses(soil):
        rows = [row for row in soil.readings if row.traverse == name]
        array = rows[0].array.value.capitalize().replace("_", " ")
        used = [row for row in rows if row.used]
        _dots(axes, used, marker, shade, filled=True, label=f"{name} ({array})")
        _dots(axes, [row for row in rows if not row.used], marker, shade, filled=False)


def _dots(
    axes: Any, rows: list[ApparentReading], marker: str, shade: str, *, filled: bool, label: str = ""
) -> None:
    axes.plot(
        [row.position_m for row in rows],
        [row.apparent_resistivity_ohm_m for row in rows],
        linestyle="none",
        marker=marker,
        markersize=5.5,
        markerfacecolor=shade if filled else "white",
        markeredgecolor=shade,
        markeredgewidth=1.2,
        zorder=5,
        label=label or None,
    )


def _residuals(axes: Any, soil: SoilResult) -> None:
    axes.axhline(0.0, color=INK, lw=1.0)
    if soil.noise is not None:
        band = 100 * soil.noise
        axes.axhspan(-band, band, color="#e6e6e6", zorder=0)
    for name, marker, shade in _traverses(soil):
        for used in (True, False):
            rows = [
                row
                for row in soil.readings
                if row.traverse == name and row.used is used and isfinite(row.residual)
            ]
            axes.plot(
                [row.position_m for row in rows],
                [100 * (exp(row.residual) - 1) for row in rows],
                linestyle="none",
                marker=marker,
                markersize=4.5,
                markerfacecolor=shade if used else "white",
                markeredgecolor=shade,
                zorder=4,
            )


def _dress(upper: Any, lower: Any, soil: SoilResult) -> None:
    from matplotlib.ticker import FuncFormatter, LogLocator

    upper.set_xscale("log")
    upper.set_yscale("log")
    plain = FuncFormatter(lambda value, _: f"{value:g}")
    for axis in (upper.yaxis, lower.xaxis):
        axis.set_major_locator(LogLocator(base=10))
        axis.set_minor_locator(LogLocator(base=10, subs=tuple(range(2, 10))))
        axis.set_major_formatter(plain)
        axis.set_minor_formatter(FuncFormatter(lambda v, _: f"{v:g}" if str(v)[0] in "25" else ""))
        axis.set_tick_params(which="minor", labelsize=6.5)
    _limit_axes(upper, soil)
    upper.grid(which="major", color="#9a9a9a", lw=0.7)
    upper.grid(which="minor", color="#e0e0e0", lw=0.5)
    lower.grid(which="major", color="#9a9a9a", lw=0.6)
    lower.grid(which="minor", axis="x", color="#e0e0e0", lw=0.5)
    upper.set_ylabel("Apparent resistivity, Ω·m")
    lower.set_ylabel("Measured over\nchosen model, %")
    noise = f"\ngrey band: noise ±{100 * soil.noise:.1f} %" if soil.noise is not None else ""
    source = f", {soil.noise_source}" if noise and soil.noise_source else ""
    lower.set_xlabel(f"Wenner spacing a, Schlumberger half spacing AB/2 or rod length, m{noise}{source}")
    if any(not row.used for row in soil.readings):
        upper.plot([], [], "o", mfc="white", mec=PALE, label="hollow: left out of the fit")
    if soil.curves_ohm_m or soil.readings:
        upper.legend(loc="best")


def _limit_axes(axes: Any, soil: SoilResult) -> None:
    """Whole steps of 1-2-5 around readings and curves, so that a flat curve is not blown up."""
    xs = [row.position_m for row in soil.readings] or list(soil.curve_positions_m) or [1.0, 100.0]
    ys = [row.apparent_resistivity_ohm_m for row in soil.readings]
    ys += [v for name, values in soil.curves_ohm_m.items() if name == soil.chosen for v in values]
    ys = ys or list(soil.soil.resistivities_ohm_m)
    axes.set_xlim(min(xs) / 1.3, max(xs) * 1.3)
    low, high = min(ys) / 1.25, max(ys) * 1.25
    if high / low < 8:
        middle = (low * high) ** 0.5
        low, high = middle / 8**0.5, middle * 8**0.5
    axes.set_ylim(low, high)
