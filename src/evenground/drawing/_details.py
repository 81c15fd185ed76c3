"""Sections and details, drawn from the sizes of the design; each keeps its own proportions."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, pi, sin

from evenground.drawing._frame import BINDING_MM, CHARACTER, MARGIN_MM, Sheet
from evenground.drawing._style import TEXT_STYLE, mtext, plain_text
from evenground.schedules import ConductorType, Design

__all__ = ["Cell", "DetailSizes", "draw_details"]

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class DetailSizes:
    """Sizes shown on the details that a design does not hold. Common practice, to be confirmed by the
    client's standard; the sheet says so. [m]"""

    riser_height_m: float = 0.3
    operator_mat_m: float = 1.5
    operator_mat_mesh_m: float = 0.15
    operator_mat_depth_m: float = 0.3
    pit_m: float = 0.4
    fence_height_m: float = 2.4
    gate_width_m: float = 5.0
    ring_outside_fence_m: float = 1.0


@dataclass(frozen=True, slots=True)
class Facts:
    """What the details need to know of the design. [m]"""

    depth_m: float
    trench_m: float
    below_m: float
    cover_m: float
    cover: str
    rod_m: float
    mat: ConductorType
    riser: ConductorType | None
    rod: ConductorType | None
    sizes: DetailSizes

    @property
    def riser_text(self) -> str:
        """Size of the riser, or that none is stated."""
        return self.riser.text if self.riser else "size not stated"


class Cell:
    """One detail: a box on the sheet with its own scale; x to the right, z up, the surface at z = 0. [m]"""

    def __init__(self, sheet: Sheet, x: float, y: float, width: float, height: float) -> None:
        self.sheet = sheet
        self.x, self.y, self.width, self.height = x, y, width, height
        self.scale, self.left, self.low = 1.0, 0.0, 0.0
        self.grow = sheet.h / 2

    def fit(self, x0: float, z0: float, x1: float, z1: float) -> None:
        """Choose the scale so that this box fills the free part of the cell."""
        h = self.sheet.h
        room_x, room_y = self.width - 6 * h, self.height - 10 * h
        self.scale = min(room_x / (x1 - x0), room_y / (z1 - z0))
        self.left = self.x + self.width / 2 - self.scale * (x0 + x1) / 2
        self.low = self.y + 5 * h + room_y / 2 - self.scale * (z0 + z1) / 2

    def at(self, p: Point) -> Point:
        """Place on the sheet. [mm]"""
        return self.left + self.scale * p[0], self.low + self.scale * p[1]

    def path(self, points: Sequence[Point], layer: str = "EG-DETAIL", *, closed: bool = False) -> None:
        """A line through points."""
        look = {"layer": layer, "ltscale": self.sheet.pattern}
        self.sheet.space.add_lwpolyline([self.at(p) for p in points], close=closed, dxfattribs=look)

    def dot(self, p: Point, radius_mm: float = 0.8, layer: str = "EG-DETAIL") -> None:
        """A filled circle of a size on paper."""
        x, y = self.at(p)
        radius_mm *= self.grow
        look = {"layer": layer, "const_width": radius_mm}
        self.sheet.space.add_lwpolyline(
            [(x - radius_mm / 2, y, 1.0), (x + radius_mm / 2, y, 1.0)],
            format="xyb",
            close=True,
            dxfattribs=look,
        )

    def ring(self, p: Point, radius_mm: float, layer: str = "EG-DETAIL") -> None:
        """A circle of a size on paper."""
        self.sheet.space.add_circle(self.at(p), radius_mm * self.grow, {"layer": layer})

    def note(
        self, words: str, p: Point, to: Point | None = None, *, right: bool = True, narrow: bool = False
    ) -> None:
        """Words at a place, with a thin line to what they speak of; ``narrow`` puts numbers on a new line."""
        words = self.sheet.say(words)
        words = re.sub(r" (?=\d)", "\n", words, count=1) if narrow else words
        x, y = self.at(p)
        h = 0.85 * self.sheet.h
        look = {
            "layer": "EG-NOTE", "style": TEXT_STYLE, "char_height": h, "insert": (x, y),
            "attachment_point": 4 if right else 6,
        }  # fmt: skip
        self.sheet.space.add_mtext(mtext(words), look)
        if to is not None:
            ahead = self.at(to)[0] > x + 2
            wide = CHARACTER * h * max(len(line) for line in words.split("\n"))
            start = (x + wide + 0.6 if ahead else x - 0.6, y) if right else (x + 0.6, y)
            self.sheet.space.add_line(start, self.at(to), {"layer": "EG-NOTE"})

    def size(self, a: Point, b: Point, away_mm: float, words: str = "") -> None:
        """A dimension between two points, moved sideways on paper (to the left of a towards b)."""
        (ax, ay), (bx, by) = self.at(a), self.at(b)
        length = hypot(bx - ax, by - ay)
        ux, uy = (bx - ax) / length, (by - ay) / length
        nx, ny = -uy * away_mm * self.grow, ux * away_mm * self.grow
        space, look = self.sheet.space, {"layer": "EG-DIMENSION"}
        p, q = (ax + nx, ay + ny), (bx + nx, by + ny)
        space.add_line(p, q, look)
        for (x, y), (ox, oy) in ((p, (ax, ay)), (q, (bx, by))):
            space.add_line(
                (x - 0.7 * (ux - uy), y - 0.7 * (uy + ux)), (x + 0.7 * (ux - uy), y + 0.7 * (uy + ux)), look
            )
            space.add_line((ox + nx * 0.1, oy + ny * 0.1), (x + nx * 0.1, y + ny * 0.1), look)
        text = self.sheet.say(words) or f"{hypot(b[0] - a[0], b[1] - a[1]):.2f}"
        angle = degrees(atan2(uy, ux))
        if not -90 < angle <= 90:
            angle = angle % 360 - 180
        h = 0.8 * self.sheet.h
        side = (-sin(angle * pi / 180) * 0.5 * h, cos(angle * pi / 180) * 0.5 * h)
        middle = ((p[0] + q[0]) / 2 + side[0], (p[1] + q[1]) / 2 + side[1])
        label = {"layer": "EG-DIMENSION", "style": TEXT_STYLE, "rotation": angle}
        from ezdxf.enums import TextEntityAlignment

        made = space.add_text(plain_text(text), height=h, dxfattribs=label)
        made.set_placement(middle, align=TextEntityAlignment.BOTTOM_CENTER)

    def ground(self, x0: float, x1: float) -> None:
        """The surface with short strokes under it."""
        self.path([(x0, 0), (x1, 0)])
        step = 4.0 * self.grow / self.scale
        count = int((x1 - x0) / step)
        for i in range(count):
            x = x0 + (i + 0.7) * step
            self.path([(x, 0), (x - 0.4 * step, -0.4 * step)], "EG-DIMENSION")

    def title(self, number: int, words: str) -> None:
        """Heading of the cell."""
        h = self.sheet.h
        self.sheet.text(
            f"{number}  {self.sheet.say(words)}", self.x + 1.5 * h, self.y + self.height - 2.4 * h, 1.25 * h
        )


def draw_details(sheet: Sheet, design: Design, sizes: DetailSizes, floor: float) -> None:
    """Up to nine details in three rows, and what they are based on."""
    facts = _facts(design, sizes)
    ways = {fence.bonding for fence in design.installation.fences}
    shown = [d for d in _DETAILS if not ways or "bonded" in ways or d[1] not in (_gate, _fence)]
    width = (sheet.column_x - BINDING_MM) / 3
    height = (sheet.paper.height_mm - 2 * MARGIN_MM) / 3
    for k, (title, draw) in enumerate(shown):
        x = BINDING_MM + width * (k % 3)
        y = MARGIN_MM + height * (2 - k // 3)
        sheet.box(x, y, width, height, "EG-DIMENSION")
        cell = Cell(sheet, x, y, width, height)
        cell.title(k + 1, title)
        draw(cell, facts)
    h = sheet.h
    top = sheet.paper.height_mm - MARGIN_MM - 2 * h
    sheet.text(sheet.say("Notes to the details"), sheet.column_x + 2, top, 1.3 * h)
    y = top - 1.6 * h
    for line in map(sheet.say, _detail_notes(facts)):
        if y < floor + 6 * h:
            break
        y = sheet.paragraph(line, sheet.column_x + 2, y, sheet.paper.column_mm - 4, 0.9 * h) - 0.4 * h


def _facts(design: Design, sizes: DetailSizes) -> Facts:
    flat = design.horizontal
    if not flat:
        raise ValueError("the design holds no horizontal conductor to draw details of")
    position, conductor = flat[0]
    covers = [z for z in design.surface if z.thickness_m > 0]
    rods = [i for i, c in enumerate(design.electrode) if c.kind == "rod"]
    return Facts(
        depth_m=max(conductor.start_m[2], 0.1),
        trench_m=design.installation.trench_width_m,
        below_m=design.installation.trench_below_m,
        cover_m=covers[0].thickness_m if covers else 0.0,
        cover=(covers[0].material or "cover") if covers else "",
        rod_m=design.electrode.conductors[rods[0]].length_m if rods else 0.0,
        mat=design.type_of(position),
        riser=design.types.get("riser"),
        rod=design.type_of(rods[0]) if rods else None,
        sizes=sizes,
    )


def _detail_notes(f: Facts) -> list[str]:
    s = f.sizes
    lines = [
        "1. Sizes in metres. Trench, depth, conductor, rod and cover are those of the design.",
        f"2. Common practice, to be confirmed by the client's standard: terminal {s.riser_height_m:g} m "
        f"above the surface; pit {s.pit_m:g} m square; operator mat {s.operator_mat_m:g} m square of "
        f"{s.operator_mat_mesh_m:g} m mesh, {s.operator_mat_depth_m:g} m deep; "
        f"ring {s.ring_outside_fence_m:g} m outside the fence where the fence is bonded to the mat.",
        f"3. Joints below ground: {f.mat.joint}. Bolted joints only where they can be inspected.",
        "4. Fine soil without stones round the conductor; layers of 0.15 m, each compacted.",
        "5. Whether a fence is bonded to the mat or earthed apart is a result of the calculation; "
        "the details show a bonded fence.",
    ]
    if not f.rod_m:
        lines.append("6. This design has no rods.")
    if f.riser is None:
        lines.append("7. The project states no riser.")
    return lines


def _cover(cell: Cell, f: Facts, x0: float, x1: float, skip: tuple[float, float] | None = None) -> None:
    """Surface cover on top of the ground."""
    if not f.cover_m:
        return
    for a, b in ((x0, x1),) if skip is None else ((x0, skip[0]), (skip[1], x1)):
        cell.path([(a, 0), (b, 0), (b, f.cover_m), (a, f.cover_m)], "EG-ZONE", closed=True)


def _trench(cell: Cell, f: Facts) -> None:
    w, d = f.trench_m, f.depth_m + f.below_m
    cell.fit(-1.9 * w, -d - 0.22, 1.9 * w, f.cover_m + 0.12)
    cell.ground(-1.6 * w, -w / 2)
    cell.ground(w / 2, 1.6 * w)
    cell.path([(-w / 2, 0), (-w / 2, -d), (w / 2, -d), (w / 2, 0)])
    cell.path([(-w / 2, 0), (w / 2, 0)], "EG-OUTLINE")
    _cover(cell, f, -1.6 * w, 1.6 * w)
    cell.dot((0, -f.depth_m), 2.0)
    cell.size((-w / 2, -d), (w / 2, -d), -4.0)
    cell.size((w / 2 + 0.1, -f.depth_m), (w / 2 + 0.1, 0), -5.0)
    cell.size((-w / 2 - 0.1, -d), (-w / 2 - 0.1, 0), 5.0)
    cell.path([(0, -f.depth_m), (w / 2 + 0.1, -f.depth_m)], "EG-DIMENSION")
    cell.note(f.mat.text, (-1.9 * w, -d - 0.2), (0, -f.depth_m), narrow=True)
    if f.cover_m:
        cell.note(f"{f.cover}, {f.cover_m:g} m", (-1.9 * w, f.cover_m + 0.08))


def _crossing(cell: Cell, f: Facts) -> None:
    cell.fit(-0.5, -0.5, 0.5, 0.5)
    cell.path([(-0.5, 0), (0.5, 0)], "EG-MAT")
    cell.path([(0, -0.5), (0, 0.5)], "EG-MAT")
    cell.ring((0, 0), 3.0)
    cell.dot((0, 0), 1.6)
    cell.note(f"{f.mat.joint} joint", (0.12, 0.22), (0.03, 0.03))
    cell.note("plan", (-0.45, 0.45))
    cell.note(f.mat.text, (-0.48, -0.06), narrow=True)


def _tee(cell: Cell, f: Facts) -> None:
    cell.fit(-0.5, -0.5, 0.5, 0.5)
    cell.path([(-0.5, 0.15), (0.5, 0.15)], "EG-MAT")
    cell.path([(0, -0.05), (0, 0.15)], "EG-MAT")
    cell.ring((0, 0.15), 3.0)
    cell.dot((0, 0.15), 1.6)
    cell.path([(-0.4, -0.2), (0.1, -0.2), (0.15, -0.21), (0.19, -0.24), (0.2, -0.28), (0.2, -0.5)], "EG-MAT")
    cell.note("tee at the edge", (0.08, 0.3), (0.03, 0.18))
    cell.note("corner: a joint, or one\nconductor bent through", (-0.48, -0.34))


def _riser(cell: Cell, f: Facts) -> None:
    d, up = f.depth_m, f.sizes.riser_height_m
    half = 0.9 * (d + up)
    cell.fit(-half, -d - 0.1, half, up + 0.2)
    cell.ground(-half, half)
    _cover(cell, f, -half, half)
    cell.path([(-half, -d), (half, -d)], "EG-MAT")
    cell.path([(0, -d), (0, up)], "EG-LEAD")
    cell.dot((0, -d), 1.6)
    cell.path([(-0.06, up - 0.06), (0.06, up - 0.06), (0.06, up + 0.06), (-0.06, up + 0.06)], closed=True)
    cell.size((0.35 * half, -d), (0.35 * half, 0), -4.0)
    cell.size((0.35 * half, 0), (0.35 * half, up), -4.0)
    cell.note(f"riser, {f.riser_text}", (-half, up + 0.14))
    cell.note("terminal", (-half, up * 0.7), (-0.06, up))
    cell.note(f"{f.mat.joint} joint", (-half, -d * 0.6), (0, -d))


def _rod_pit(cell: Cell, f: Facts) -> None:
    s, d = f.sizes.pit_m, f.depth_m
    deep = d + 1.4
    half = 0.7 * (deep + 0.3)
    cell.fit(-half, -deep, half, 0.25)
    cell.ground(-half, -s / 2)
    cell.ground(s / 2, half)
    depth = d + 0.1
    for x in (-s / 2, s / 2):
        cell.path([(x - 0.03, 0.03), (x - 0.03, -depth), (x + 0.03, -depth), (x + 0.03, 0.03)], closed=True)
    cell.path(
        [(-s / 2 - 0.05, 0.03), (s / 2 + 0.05, 0.03), (s / 2 + 0.05, 0.08), (-s / 2 - 0.05, 0.08)],
        closed=True,
    )
    cell.path([(-half, -d), (-0.12, -d)], "EG-MAT")
    cell.path([(-0.12, -d - 0.03), (0.02, -d - 0.03), (0.02, -d + 0.03), (-0.12, -d + 0.03)], closed=True)
    cell.path([(0, -d + 0.2), (0, -d - 0.75)], "EG-ROD")
    cell.path([(-0.06, -d - 0.75), (0.06, -d - 0.8)])
    cell.path([(-0.06, -d - 0.8), (0.06, -d - 0.85)])
    cell.path([(0, -d - 0.85), (0, -d - 1.25), (-0.03, -d - 1.2)], "EG-ROD")
    cell.size((-s / 2, 0.1), (s / 2, 0.1), 3.0)
    rod = f"rod {f.rod_m:g} m, {f.rod.text}" if f.rod else "rod: none in this design"
    cell.note(rod.replace(", ", ",\n", 1), (0.12, -d - 0.9))
    cell.note("disconnecting link", (s / 2 + 0.1, -d * 0.5), (0.02, -d))


def _operator_mat(cell: Cell, f: Facts) -> None:
    a, mesh = f.sizes.operator_mat_m, f.sizes.operator_mat_mesh_m
    cell.fit(-0.8 * a, -0.65 * a, 0.8 * a, 0.75 * a)
    count = max(1, round(a / mesh))
    for i in range(count + 1):
        x = -a / 2 + a * i / count
        cell.path([(x, -a / 2), (x, a / 2)], "EG-DIMENSION")
        cell.path([(-a / 2, x), (a / 2, x)], "EG-DIMENSION")
    cell.path([(-a / 2, -a / 2), (a / 2, -a / 2), (a / 2, a / 2), (-a / 2, a / 2)], closed=True)
    cell.path([(-0.8 * a, 0.3 * a), (-a / 2, 0.3 * a)], "EG-LEAD")
    cell.path([(-0.8 * a, -0.3 * a), (-a / 2, -0.3 * a)], "EG-LEAD")
    cell.path([(0, a / 2), (0, 0.68 * a)], "EG-LEAD")
    cell.ring((0, 0.68 * a), 1.8)
    cell.note("handle, bonded visibly", (0.06 * a, 0.68 * a))
    cell.size((-a / 2, -a / 2), (a / 2, -a / 2), -3.5)
    cell.note("two leads", (-0.55 * a, 0.0), right=False)


def _gate(cell: Cell, f: Facts) -> None:
    w, high, d = f.sizes.gate_width_m, f.sizes.fence_height_m, f.depth_m
    half = 0.5 * w + 0.9
    cell.fit(-half, -d - 1.0, half, high + 0.5)
    cell.ground(-half, half)
    for side in (-1, 1):
        x = side * w / 2
        cell.path([(x - 0.06, -0.4), (x - 0.06, high), (x + 0.06, high), (x + 0.06, -0.4)], closed=True)
        cell.path([(x, 0.1), (side * 0.05, 0.1), (side * 0.05, high - 0.1), (x, high - 0.1)], "EG-GATE")
        cell.path([(x, high * 0.6), (x - side * 0.25, high * 0.5), (x - side * 0.45, high * 0.6)], "EG-LEAD")
        cell.path([(x + side * 0.06, 0.2), (x + side * 0.25, 0.1), (x + side * 0.25, -d)], "EG-LEAD")
        cell.dot((x + side * 0.25, -d), 1.4)
    cell.path([(-half, -d), (half, -d)], "EG-MAT")
    cell.note("flexible bond\npost to leaf", (-w / 2 + 0.7, high * 0.5), (-w / 2 + 0.3, high * 0.5))
    cell.note("conductor under the opening, posts bonded to it", (-w / 2, -d - 0.6))
    cell.size((-w / 2, high + 0.05), (w / 2, high + 0.05), 3.0)


def _fence(cell: Cell, f: Facts) -> None:
    high, d, out = f.sizes.fence_height_m, f.depth_m, f.sizes.ring_outside_fence_m
    cell.fit(-1.6, -d - 0.4, out + 0.8, high + 0.3)
    cell.ground(-1.6, out + 0.8)
    _cover(cell, f, -1.6, out + 0.8, skip=(-0.06, 0.06))
    cell.path([(-0.05, -0.5), (-0.05, high), (0.05, high), (0.05, -0.5)], closed=True)
    cell.path([(-0.05, 0.25), (-0.3, 0.15), (-0.3, -d)], "EG-LEAD")
    cell.path([(-0.3, -d), (out, -d)], "EG-RUN")
    for x in (-0.3, out):
        cell.dot((x, -d), 1.8)
    cell.size((0.0, -d - 0.1), (out, -d - 0.1), -3.5)
    cell.size((out, -d), (out, 0), -6.0)
    cell.note("inside", (-1.5, high * 0.6))
    cell.note("outside", (0.5, high * 0.6))
    cell.note("post bonded", (-1.6, high * 0.3), (-0.3, 0.15))
    if f.cover_m:
        cell.note(f"cover {f.cover_m:g} m,\n{out:g} m beyond the ring", (0.35, high * 0.3), (0.25, f.cover_m))


def _equipment(cell: Cell, f: Facts) -> None:
    d, up = f.depth_m, f.sizes.riser_height_m
    half = 1.1 * (d + up)
    cell.fit(-half, -d - 0.1, half, up + 0.7)
    cell.ground(-half, half)
    cell.path([(-0.25, 0.0), (-0.25, -0.35), (0.25, -0.35), (0.25, 0.0)])
    cell.path([(-0.12, 0.0), (-0.12, up + 0.6)])
    cell.path([(0.12, 0.0), (0.12, up + 0.6)])
    for side in (-1, 1):
        x = side * 0.55 * half
        cell.path([(side * 0.12, up), (side * 0.3, up), (side * 0.34, 0.0), (x, -0.15), (x, -d)], "EG-LEAD")
        cell.dot((side * 0.12, up), 1.4)
        cell.dot((x, -d), 1.6)
    cell.path([(-half, -d), (half, -d)], "EG-MAT")
    cell.note(f"two separate connections,\neach {f.riser_text}", (0.2, up + 0.45))
    cell.note("frame", (-half, up + 0.5), (-0.12, up + 0.4))


_DETAILS: tuple[tuple[str, Callable[[Cell, Facts], None]], ...] = (
    ("Trench", _trench),
    ("Crossing", _crossing),
    ("Tee and corner", _tee),
    ("Riser", _riser),
    ("Rod with inspection pit", _rod_pit),
    ("Equipment frame", _equipment),
    ("Operator mat", _operator_mat),
    ("Gate", _gate),
    ("Fence, bonded", _fence),
)
