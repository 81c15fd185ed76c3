"""The plan in model space: metres, x and y as in the project, z = -depth."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, radians, sin
from typing import TYPE_CHECKING, Any

from evenground.drawing._pick import inner_conductor, is_upright_rod, upper_conductor
from evenground.drawing._style import LAYERS, TEXT_STYLE, add_layer, conductor_layer, mtext, plain_text
from evenground.model.electrode import Conductor
from evenground.model.installation import EquipmentItem
from evenground.model.site import Point2
from evenground.schedules import Design, measure
from evenground.siteplan import APPLICATION, mark_tags

if TYPE_CHECKING:
    from ezdxf.document import Drawing

__all__ = ["Extent", "draw_plan", "plan_extent"]

MOST_CHAIN_DIMENSIONS = 40
MOST_LABELS = 60


@dataclass(frozen=True, slots=True)
class Extent:
    """A box in plan. [m]"""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def size(self) -> Point2:
        """Width and height. [m]"""
        return self.x1 - self.x0, self.y1 - self.y0

    @property
    def centre(self) -> Point2:
        """Middle. [m]"""
        return (self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2


def plan_extent(design: Design) -> Extent:
    """Box round everything in the plan, dimensions and the neighbours' fences left out. [m]"""
    points: list[Point2] = [p[:2] for c in design.electrode for p in (c.start_m, c.end_m)]
    for zone in design.surface:
        points += zone.outline_m or ()
    points += [(e.x_m, e.y_m) for e in design.installation.equipment]
    for fence in design.installation.fences:
        points += fence.points_m if fence.owner == "own" else ()
    if not points:
        raise ValueError("the design holds nothing to draw")
    xs, ys = zip(*points, strict=True)
    return Extent(min(xs), min(ys), max(xs), max(ys))


def draw_plan(document: Drawing, design: Design, extent: Extent, scale: float, text_mm: float) -> None:
    """Draw the design into model space; symbols and text are sized for the paper scale."""
    plan = _Plan(document, design, extent, scale, text_mm)
    plan.blocks()
    plan.surroundings()
    plan.conductors()
    plan.labels()
    plan.rods()
    plan.equipment()
    plan.dimensions()
    plan.axes()


class _Plan:
    """Draws one plan; ``mm`` is the length in model space of a millimetre on paper, larger on paper whose
    text is larger than 2 mm. [m]"""

    def __init__(
        self, document: Drawing, design: Design, extent: Extent, scale: float, text_mm: float
    ) -> None:
        self.document = document
        self.design = design
        self.space: Any = document.modelspace()
        self.say = design.language.term
        self.zone_labels: list[tuple[str, Point2, float]] = []
        self.mm = scale / 1000 * text_mm / 2
        self.text = 2 * self.mm
        self.extent = extent
        document.appids.add(APPLICATION)
        wipeouts: Any = document
        wipeouts.set_wipeout_variables(frame=0)

    # -- symbols ------------------------------------------------------------------------------------

    def blocks(self) -> None:
        """Rod, pit, riser, equipment and gate post as blocks, 1 unit = 1 mm on A3."""
        rod: Any = self.document.blocks.new("EG-ROD")
        rod.add_circle((0, 0), 1.3)
        rod.add_line((-1.3, 0), (1.3, 0))
        rod.add_line((0, -1.3), (0, 1.3))
        rod.add_attdef("NUMBER", (1.6, 0.6), height=self.text / self.mm, dxfattribs={"style": TEXT_STYLE})
        low = {"style": TEXT_STYLE}
        rod.add_attdef(
            "LENGTH",
            (1.6, -0.6 - 0.8 * self.text / self.mm),
            height=0.8 * self.text / self.mm,
            dxfattribs=low,
        )
        rod.add_attdef("DIAMETER", (0, 0), height=1, dxfattribs={"flags": 1})
        rod.add_attdef("TOP", (0, 0), height=1, dxfattribs={"flags": 1})
        pit: Any = self.document.blocks.new("EG-PIT")
        pit.add_lwpolyline([(-2.2, -2.2), (2.2, -2.2), (2.2, 2.2), (-2.2, 2.2)], close=True)
        riser: Any = self.document.blocks.new("EG-RISER")
        riser.add_solid([(-0.9, -0.8), (0.9, -0.8), (0, 0.9)])
        box: Any = self.document.blocks.new("EG-EQUIPMENT")
        box.add_lwpolyline([(-1.2, -1.2), (1.2, -1.2), (1.2, 1.2), (-1.2, 1.2)], close=True)
        box.add_line((-1.2, -1.2), (1.2, 1.2))
        letters = 0.8 * self.text / self.mm
        box.add_attdef("TAG", (-1.2, 1.7), height=letters, dxfattribs=low)
        box.add_attdef("KIND", (0, 0), height=1, dxfattribs={"flags": 1})
        box.add_attdef("TERMINALS", (0, 0), height=1, dxfattribs={"flags": 1})

    def symbol(
        self, name: str, place: tuple[float, ...], layer: str, values: dict[str, str] | None = None
    ) -> Any:
        """Insert a block at paper size with its attributes."""
        look = {"layer": layer, "xscale": self.mm, "yscale": self.mm, "zscale": self.mm}
        insert = self.space.add_blockref(name, place, dxfattribs=look)
        if values:
            insert.add_auto_attribs({k: plain_text(v) for k, v in values.items()})
        return insert

    # -- metal --------------------------------------------------------------------------------------

    def conductors(self) -> None:
        """Every conductor but the upright rods as a line in 3-D with its mark."""
        from evenground.drawing._line import MarkedLine

        layers: dict[tuple[str, str], str] = {}
        for c, key in zip(self.design.electrode, self.design.keys, strict=True):
            if is_upright_rod(c):
                continue
            if (c.kind, key) not in layers:
                layers[c.kind, key] = self._layer(c.kind, key)
            (ax, ay, az), (bx, by, bz) = c.start_m, c.end_m
            ends = {"start": (ax, ay, -az), "end": (bx, by, -bz), "layer": layers[c.kind, key]}
            line = MarkedLine.new(dxfattribs=ends)
            line.set_xdata(APPLICATION, mark_tags(c, key))
            self.space.add_entity(line)
            if c.kind == "riser":
                self.symbol("EG-RISER", (ax, ay), "EG-RISER")

    def _layer(self, kind: str, key: str) -> str:
        if kind == "rod":
            return "EG-ROD"
        name = conductor_layer(kind, key)
        add_layer(self.document, name, LAYERS[name.rsplit("-", 1)[0]])
        return name

    def rods(self) -> None:
        """Upright rods as blocks with number, length, diameter and top; pits round some of them."""
        pits = set(self.design.installation.pit_rods)
        keys = [k for k, c in zip(self.design.keys, self.design.electrode, strict=True) if c.kind == "rod"]
        for (number, rod), key in zip(self.design.rods, keys, strict=True):
            if not is_upright_rod(rod):
                continue
            top = min(rod.start_m[2], rod.end_m[2])
            values = {
                "NUMBER": f"R{number}",
                "LENGTH": f"{rod.length_m:.12g} m",
                "DIAMETER": f"{2000 * rod.radius_m:.12g}",
                "TOP": f"{top:.12g}",
            }
            insert = self.symbol("EG-ROD", (*rod.start_m[:2], -top), "EG-ROD", values)
            insert.set_xdata(APPLICATION, mark_tags(rod, key))
            if number in pits:
                self.symbol("EG-PIT", rod.start_m[:2], "EG-PIT")

    def equipment(self) -> None:
        """Equipment with its leads to the mat."""
        for lead in measure(self.design).leads if self.design.installation.equipment else ():
            item = lead.item
            values = {"TAG": item.tag, "KIND": item.kind, "TERMINALS": str(item.terminals)}
            dx, dy = lead.place_m[0] - item.x_m, lead.place_m[1] - item.y_m
            place = self.tag_place(item, beside=dy > abs(dx))
            box = self.symbol("EG-EQUIPMENT", (item.x_m, item.y_m), "EG-EQUIPMENT", values)
            box.get_attrib("TAG").set_placement(place)
            if lead.plan_m > 0:
                self.space.add_line((item.x_m, item.y_m), lead.place_m[:2], {"layer": "EG-LEAD"})
            self.symbol("EG-RISER", lead.place_m[:2], "EG-RISER")

    def tag_place(self, item: EquipmentItem, *, beside: bool) -> Point2:
        """Where the tag of equipment stands: above its box, or beside it where the lead goes up; the lines
        behind it are hidden."""
        right, up = (1.9 * self.mm, -0.4 * self.text) if beside else (-1.2 * self.mm, 1.7 * self.mm)
        x, y = item.x_m + right, item.y_m + up
        if item.tag:
            half = 0.28 * self.text * len(item.tag)
            self.white_ground((x + half, y + 0.4 * self.text), half, 0.6 * self.text, 0.0)
        return x, y

    # -- surroundings -------------------------------------------------------------------------------

    def surroundings(self) -> None:
        """Outline, surface zones, fences and gates."""
        for outline in self.design.outlines_m:
            self.ring(outline, "EG-OUTLINE")
        for zone in self.design.surface:
            if zone.outline_m is None:
                continue
            self.ring(zone.outline_m, "EG-ZONE")
            x, y = min(zone.outline_m, key=lambda p: (p[1], p[0]))
            text = f"{zone.name}: {zone.material or 'cover'}, {1000 * zone.thickness_m:.0f} mm"
            text = self.say(text)
            half = 0.37 * self.text * len(text)
            self.zone_labels.append((text, (x, y - 2.2 * self.text), half))
        for fence in self.design.installation.fences:
            self.ring(fence.points_m, "EG-FENCE", closed=fence.closed)
        for gate in self.design.installation.gates:
            self.space.add_line(gate.start_m, gate.end_m, {"layer": "EG-GATE"})
            for post in (gate.start_m, gate.end_m):
                self.space.add_circle(post, 0.8 * self.mm, {"layer": "EG-GATE"})
            middle = ((gate.start_m[0] + gate.end_m[0]) / 2, (gate.start_m[1] + gate.end_m[1]) / 2)
            upright = abs(gate.end_m[1] - gate.start_m[1]) > abs(gate.end_m[0] - gate.start_m[0])
            right, up = (2.2 * self.mm, -0.5 * self.text) if upright else (0.0, 0.6 * self.text)
            self.words(gate.name, (middle[0] + right, middle[1] + up))

    def ring(self, points: Iterable[Point2], layer: str, *, closed: bool = True) -> None:
        """A line through points."""
        self.space.add_lwpolyline(list(points), close=closed, dxfattribs={"layer": layer})

    # -- words and dimensions -----------------------------------------------------------------------

    def words(self, text: str, place: Point2, *, height: float | None = None, angle: float = 0.0) -> None:
        """One line of text, its lower left corner at the place."""
        look = {"layer": "EG-TEXT", "style": TEXT_STYLE, "rotation": angle}
        self.space.add_text(plain_text(text), height=height or self.text, dxfattribs=look).set_placement(
            place
        )

    def labels(self) -> None:
        """Size and depth once for each group of conductors: on a mat over a white ground, on a run beside
        the line."""
        for text, (x, y), half in self.zone_labels:
            self.white_ground((x + half, y + 0.5 * self.text), half, 0.7 * self.text, 0.0)
            self.words(text, (x, y))
        groups: dict[tuple[str, str, float], list[Conductor]] = {}
        for i, c in self.design.horizontal:
            if hypot(c.end_m[0] - c.start_m[0], c.end_m[1] - c.start_m[1]) < 1e-3:
                continue
            mat = c.tag.rpartition(" ")[0] if c.kind == "mat" else c.kind
            groups.setdefault((mat, self.design.keys[i], round(c.start_m[2], 3)), []).append(c)
        for (name, key, depth), members in itertools.islice(groups.items(), MOST_LABELS):
            text = f"{self.design.types[key].text}, {depth:.2f} m deep"
            if members[0].kind == "mat":
                text = self.say(f"{name}: {text}" if name else text)
                c = inner_conductor(members, self.text * 0.8 * len(text))
                self.on_line(text, c, share=self.free_share(c, 0.4 * self.text * len(text)), beside=0.0)
            else:
                self.on_line(self.say(text), upper_conductor(members), share=0.5, beside=1.1 * self.text)

    def free_share(self, c: Conductor, half: float) -> float:
        """The share of a conductor's length that is furthest from equipment, for a label of this half
        length. [m]"""
        things = [(e.x_m, e.y_m) for e in self.design.installation.equipment]
        (ax, ay, _), (bx, by, _) = c.start_m, c.end_m

        def room(share: float) -> float:
            x, y = ax + (bx - ax) * share, ay + (by - ay) * share
            return min(hypot(max(abs(x - ex) - half, 0.0), y - ey) for ex, ey in things)

        return max((0.25, 0.5, 0.75, 0.35, 0.65), key=room) if things else 0.25

    def on_line(self, text: str, c: Conductor, *, share: float, beside: float) -> None:
        """Text at a share of a conductor's length, along it and readable from below or from the right;
        ``beside`` moves it off the line. [m]"""
        (ax, ay, _), (bx, by, _) = c.start_m, c.end_m
        angle = degrees(atan2(by - ay, bx - ax))
        if not -90 < angle <= 90:
            (ax, ay), (bx, by), angle = (bx, by), (ax, ay), angle % 360 - 180
        length = hypot(bx - ax, by - ay)
        nx, ny = -(by - ay) / length * beside, (bx - ax) / length * beside
        place = (ax + (bx - ax) * share + nx, ay + (by - ay) * share + ny)
        look = {
            "layer": "EG-TEXT", "style": TEXT_STYLE, "char_height": self.text, "insert": place,
            "attachment_point": 5, "rotation": angle,
        }  # fmt: skip
        self.white_ground(place, 0.37 * self.text * (len(text) + 1), 0.7 * self.text, angle)
        self.space.add_mtext(mtext(text), look)

    def white_ground(self, middle: Point2, half_x: float, half_y: float, angle: float) -> None:
        """Hide the lines behind a label."""
        turn = radians(angle)
        corners = []
        for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
            dx, dy = sx * half_x, sy * half_y
            corners.append(
                (middle[0] + dx * cos(turn) - dy * sin(turn), middle[1] + dx * sin(turn) + dy * cos(turn))
            )
        self.space.add_wipeout(corners).dxf.layer = "EG-TEXT"

    def dimensions(self) -> None:
        """Overall sizes, and the distances of the mesh lines when they are few enough to read."""
        self.dimension_style()
        flat = [c for _, c in self.design.horizontal if c.kind == "mat"]
        if not flat:
            flat = [c for _, c in self.design.horizontal]
        if not flat:
            return
        for axis in (0, 1):
            places = sorted(
                {round(c.start_m[axis], 3) for c in flat if abs(c.start_m[axis] - c.end_m[axis]) < 1e-6}
            )
            ends = [p[axis] for c in flat for p in (c.start_m, c.end_m)]
            low, high = min(ends), max(ends)
            if high - low < 1e-6:
                continue
            chain = sorted({low, *places, high})
            gaps = [b - a for a, b in itertools.pairwise(chain)]
            steps = 1
            if 2 < len(chain) <= MOST_CHAIN_DIMENSIONS and min(gaps) > 1.5 * self.text:
                for a, b in itertools.pairwise(chain):
                    self.measure(axis, a, b, 8.0)
                steps = 2
            self.measure(axis, low, high, 8.0 * steps)

    def measure(self, axis: int, a: float, b: float, away_mm: float) -> None:
        """One dimension below (axis 0) or left of (axis 1) the plan."""
        edge = (self.extent.y0, self.extent.x0)[axis] - (away_mm + 4.0) * self.mm
        points = ((a, edge), (b, edge)) if axis == 0 else ((edge, a), (edge, b))
        dimension = self.space.add_linear_dim(
            base=points[0],
            p1=points[0],
            p2=points[1],
            angle=90.0 * axis,
            dimstyle="EG",
            dxfattribs={"layer": "EG-DIMENSION"},
        )
        dimension.render()

    def dimension_style(self) -> None:
        """Dimensions in metres with ticks and two decimals at most."""
        style: Any = self.document.dimstyles.new("EG")
        style.dxf.dimtxsty = TEXT_STYLE
        style.dxf.dimtxt = 0.9 * self.text
        style.dxf.dimtsz = 0.8 * self.mm
        style.dxf.dimexo = 0.5 * self.mm
        style.dxf.dimexe = 1.0 * self.mm
        style.dxf.dimgap = 0.6 * self.mm
        style.dxf.dimtad = 1
        style.dxf.dimtih = 0
        style.dxf.dimtoh = 0
        style.dxf.dimdec = 2
        style.dxf.dimzin = 8
        style.dxf.dimdsep = ord(".")
        style.dxf.dimscale = 1.0

    def axes(self) -> None:
        """Directions of x and y, with the coordinates of the corner they stand at."""
        x, y = self.extent.x0 - 22 * self.mm, self.extent.y0 - 22 * self.mm
        length = 8 * self.mm
        for dx, dy, name in ((length, 0.0, "x"), (0.0, length, "y")):
            self.space.add_line((x, y), (x + dx, y + dy), {"layer": "EG-TEXT"})
            tip = ((dx > 0) * self.mm, (dy > 0) * self.mm)
            self.words(name, (x + dx + tip[0], y + dy + tip[1]))
        self.words(f"x {x:.2f}  y {y:.2f} m", (x, y - 1.6 * self.text))
        if self.design.identity.north_deg is not None:
            self.north((x, self.extent.y1 - 6 * self.mm), radians(self.design.identity.north_deg))

    def north(self, place: Point2, turn: float) -> None:
        """An arrow to the north, its middle at the place; ``turn`` clockwise from the y axis. [rad]"""
        along, across = (sin(turn), cos(turn)), (cos(turn), -sin(turn))

        def at(forward: float, right: float) -> Point2:
            x, y = (place[i] + (forward * along[i] + right * across[i]) * self.mm for i in (0, 1))
            return x, y

        self.space.add_line(at(-6, 0), at(6, 0), {"layer": "EG-TEXT"})
        self.space.add_solid([at(6, 0), at(2.5, 1.3), at(3.3, 0)], {"layer": "EG-TEXT"})
        self.space.add_line(at(6, 0), at(2.5, -1.3), {"layer": "EG-TEXT"})
        look = {"layer": "EG-TEXT", "style": TEXT_STYLE, "char_height": 1.3 * self.text}
        self.space.add_mtext("N", look | {"insert": at(9, 0), "attachment_point": 5})
