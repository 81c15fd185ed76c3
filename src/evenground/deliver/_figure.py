"""A matplotlib figure without pyplot: fixed style, bundled font, and saving without a trace of the day."""

from __future__ import annotations

import functools
import re
import textwrap
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar, cast

from evenground.deliver.files import write_bytes

if TYPE_CHECKING:
    from evenground.model.electrode import Electrode
    from evenground.model.site import Point2

__all__ = [
    "INK",
    "PAGE_WIDTH_IN",
    "draw_conductors",
    "draw_outline",
    "figure_bytes",
    "legend_below",
    "plan_axes",
    "save_figure",
    "stacked_axes",
    "styled",
    "wrapped",
]

P = ParamSpec("P")
R = TypeVar("R")

PAGE_WIDTH_IN = 6.7
"""Width of the type area of an A4 page. [inch]"""
INK = "#1a1a1a"
PALE = "#8a8a8a"
DOTS_PER_INCH = 160
TITLE_CHARACTERS = 82
TALLEST_IN = 6.6

_STYLE: dict[str, Any] = {
    "font.family": ["DejaVu Sans"],
    "font.size": 8.0,
    "axes.titlesize": 9.0,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.labelsize": 8.0,
    "axes.linewidth": 0.7,
    "axes.edgecolor": INK,
    "axes.axisbelow": True,
    "xtick.labelsize": 7.5,
    "ytick.labelsize": 7.5,
    "legend.fontsize": 7.5,
    "legend.framealpha": 1.0,
    "legend.edgecolor": "#c0c0c0",
    "legend.fancybox": False,
    "hatch.linewidth": 0.6,
    "text.parse_math": False,
    "axes.unicode_minus": True,
    "svg.fonttype": "path",
    "svg.hashsalt": "evenground",
}


@contextmanager
def _style() -> Iterator[None]:
    """The program's own style, whatever the user's settings are."""
    import matplotlib

    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(cast(Any, _STYLE))
        yield


def styled(draw: Callable[P, R]) -> Callable[P, R]:
    """Run a drawing function in the program's style."""

    @functools.wraps(draw)
    def wrapper(*args: P.args, **kwargs: P.kwargs) -> R:
        with _style():
            return draw(*args, **kwargs)

    return wrapper


def new_figure(height_in: float, width_in: float = PAGE_WIDTH_IN) -> Any:
    """An empty figure with its own canvas. [inch]"""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width_in, height_in), facecolor="white")
    FigureCanvasAgg(figure)
    return figure


def wrapped(*lines: str) -> str:
    """Title lines, broken so that they fit the width of a figure."""
    return "\n".join(part for line in lines for part in textwrap.wrap(line, TITLE_CHARACTERS) or [""])


def title_height(title: str) -> float:
    """Room for a title above the axes. [inch]"""
    return 0.12 + 0.155 * (title.count("\n") + 1)


def stacked_axes(heights_in: tuple[float, ...], title: str, legend_rows: int, below_in: float = 0.5) -> Any:
    """Figure with axes above one another on a common abscissa; the title stands over the first. [inch]"""
    left, right, gap = 0.78, 0.12, 0.14
    bottom = below_in + legend_height(legend_rows)
    height = sum(heights_in) + gap * (len(heights_in) - 1) + bottom + title_height(title)
    figure = new_figure(height)
    width = PAGE_WIDTH_IN - left - right
    axes: list[Any] = []
    top = height - title_height(title)
    for own in heights_in:
        top -= own
        place = (left / PAGE_WIDTH_IN, top / height, width / PAGE_WIDTH_IN, own / height)
        axes.append(figure.add_axes(place, sharex=axes[0] if axes else None))
        top -= gap
    for upper in axes[:-1]:
        upper.tick_params(which="both", labelbottom=False)
    axes[0].set_title(title)
    return figure, *axes


def legend_height(rows: int) -> float:
    """Room for a legend below the axes. [inch]"""
    return 0.12 + 0.175 * rows if rows else 0.0


def legend_below(figure: Any, handles: list[Any], columns: int) -> None:
    """Legend at the foot of the figure."""
    height = figure.get_size_inches()[1]
    figure.legend(handles=handles, loc="lower center", bbox_to_anchor=(0.5, 0.04 / height), ncols=columns)


def plan_axes(width_m: float, height_m: float, title: str, legend_rows: int, *, bar: bool) -> tuple[Any, ...]:
    """Figure, axes and axes of the colour bar (None without) for a plan of this extent.

    Both axes are in metres with equal scale.
    """
    left, right = 0.62, (0.95 if bar else 0.15)
    bottom = 0.46 + legend_height(legend_rows)
    wide = PAGE_WIDTH_IN - left - right
    high = wide * height_m / width_m
    if high > TALLEST_IN:
        wide, high = TALLEST_IN * width_m / height_m, TALLEST_IN
    wide, high = max(wide, 2.2), max(high, 1.1)
    height = high + bottom + title_height(title)
    figure = new_figure(height)

    def place(x: float, width: float) -> tuple[float, float, float, float]:
        return (x / PAGE_WIDTH_IN, bottom / height, width / PAGE_WIDTH_IN, high / height)

    axes = figure.add_axes(place(left, wide))
    axes.set_aspect("equal")
    axes.set_xlabel("x, m")
    axes.set_ylabel("y, m")
    axes.set_title(title)
    return figure, axes, figure.add_axes(place(left + wide + 0.15, 0.17)) if bar else None


def figure_bytes(figure: Any, kind: str) -> bytes:
    """A figure as ``"svg"`` or ``"png"``; the same figure gives the same bytes on every day."""
    stream = BytesIO()
    metadata = {"Date": None, "Creator": "evenground"} if kind == "svg" else {"Software": "evenground"}
    with _style():
        figure.savefig(stream, format=kind, dpi=DOTS_PER_INCH, metadata=metadata)
    data = stream.getvalue()
    return _PATH.sub(_rounded, data) if kind == "svg" else data


_PATH = re.compile(rb' d="[^"]*"')
_DECIMALS = re.compile(rb"(\.\d\d)\d+")


def _rounded(match: re.Match[bytes]) -> bytes:
    """Coordinates of a path to 0.01 point (4 micrometres on paper), which halves the file."""
    return _DECIMALS.sub(rb"\1", match.group())


def save_figure(figure: Any, file: Path) -> None:
    """Write a figure; the suffix (``.svg`` or ``.png``) says in which format.

    Raises
    ------
    ValueError
        For another suffix.
    """
    kind = file.suffix.lower().lstrip(".")
    if kind not in ("svg", "png"):
        raise ValueError(f"{file.name}: a picture is written as .svg or .png")
    write_bytes(file, figure_bytes(figure, kind))


def draw_outline(axes: Any, ring: tuple[Point2, ...], **style: Any) -> None:
    """Draw a closed ring."""
    xs, ys = zip(*(*ring, ring[0]), strict=True)
    axes.plot(xs, ys, **style)


def draw_conductors(
    axes: Any, electrode: Electrode, *, thin: bool = False, separate: Electrode | None = None
) -> list[Any]:
    """Draw horizontal metal as lines and rods as ringed dots; returns handles for the legend.

    ``separate`` is metal that is not bonded to the rest.
    """
    from matplotlib.collections import LineCollection
    from matplotlib.lines import Line2D
    from matplotlib.patheffects import Normal, Stroke

    halo = [Stroke(linewidth=1.9 if thin else 2.6, foreground="white", alpha=0.75), Normal()]
    handles: list[Any] = []
    kinds = dict.fromkeys(c.kind for c in electrode)
    dashes = {"mat": "solid", "run": (0, (6, 1.5)), "fence": (0, (1, 1.5)), "riser": (0, (3, 1))}
    for kind in kinds:
        rows = [c for c in electrode if c.kind == kind and c.start_m[:2] != c.end_m[:2]]
        if not rows:
            continue
        line = dashes.get(kind, (0, (4, 1, 1, 1)))
        width = 0.7 if thin else 1.2
        lines = [(c.start_m[:2], c.end_m[:2]) for c in rows]
        collection = LineCollection(lines, colors=INK, linewidths=width, linestyles=[line], zorder=4)
        collection.set_path_effects(halo if thin else [])
        axes.add_collection(collection)
        handles.append(Line2D([], [], color=INK, lw=width, ls=line, label=f"{kind} conductor"))
    upright = [c for c in electrode if c.start_m[:2] == c.end_m[:2]]
    if upright:
        dots = axes.plot(
            [c.start_m[0] for c in upright],
            [c.start_m[1] for c in upright],
            linestyle="none",
            marker="o",
            markersize=3.5 if thin else 5.5,
            markerfacecolor="white",
            markeredgecolor=INK,
            markeredgewidth=1.0 if thin else 1.4,
            zorder=6,
            label="rod",
        )
        handles.append(dots[0])
    return handles + (_draw_separate(axes, separate, thin) if separate is not None and len(separate) else [])


def _draw_separate(axes: Any, separate: Electrode, thin: bool) -> list[Any]:
    """Metal that is not bonded, dotted lines and squares."""
    from matplotlib.collections import LineCollection
    from matplotlib.lines import Line2D

    style: dict[str, Any] = {"color": "#5a5a5a", "lw": 1.0 if thin else 1.6, "ls": (0, (1, 1.2))}
    lines = [(c.start_m[:2], c.end_m[:2]) for c in separate if c.start_m[:2] != c.end_m[:2]]
    axes.add_collection(
        LineCollection(
            lines, colors=style["color"], linewidths=style["lw"], linestyles=[style["ls"]], zorder=4
        )
    )
    posts = [c.start_m for c in separate if c.start_m[:2] == c.end_m[:2]]
    square: dict[str, Any] = {
        "marker": "s",
        "markersize": 2.5 if thin else 4.0,
        "markerfacecolor": "white",
        "markeredgecolor": style["color"],
    }
    axes.plot([p[0] for p in posts], [p[1] for p in posts], ls="none", zorder=6, **square)
    return [Line2D([], [], label="metal not bonded", **style, **(square if posts else {}))]
