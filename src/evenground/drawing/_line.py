"""A line with its mark that writes itself in one stroke: drawings of large mats hold ten thousand of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ezdxf.entities.line import Line

from evenground.siteplan import APPLICATION

if TYPE_CHECKING:
    from ezdxf.lldxf.tagwriter import AbstractTagWriter

__all__ = ["MarkedLine"]

_TEXT = (
    "  0\nLINE\n  5\n{handle}\n330\n{owner}\n100\nAcDbEntity\n  8\n{layer}\n100\nAcDbLine\n"
    " 10\n{x1}\n 20\n{y1}\n 30\n{z1}\n 11\n{x2}\n 21\n{y2}\n 31\n{z2}\n{mark}"
)
"""Group codes of a LINE in DXF R2000 and later, in the order of the DXF reference."""


class MarkedLine(Line):
    """A line that differs from others of its layer by its ends and its mark alone.

    It writes the same bytes as a line of the library, which takes them through one general call for each
    of a dozen attributes. Anything but the bare line goes the library's way.
    """

    PLAIN = frozenset({"handle", "owner", "layer", "start", "end"})

    def export_dxf(self, tagwriter: AbstractTagWriter) -> None:
        """Write the line; called by the library when the document is written."""
        held: dict[str, Any] = self.dxf.all_existing_dxf_attribs()
        bare = not (self.appdata or self.reactors or self.has_extension_dict)
        if tagwriter.dxfversion < "AC1015" or not bare or not self.PLAIN.issuperset(held):
            super().export_dxf(tagwriter)
            return
        (x1, y1, z1), (x2, y2, z2) = held["start"], held["end"]
        text = _TEXT.format(
            handle=held["handle"], owner=held["owner"], layer=held["layer"], mark=self._mark_text(),
            x1=x1, y1=y1, z1=z1, x2=x2, y2=y2, z2=z2,
        )  # fmt: skip
        tagwriter.write_str(text)

    def _mark_text(self) -> str:
        tags = self.xdata.get(APPLICATION) if self.xdata and APPLICATION in self.xdata else ()
        return "".join(tag.dxfstr() for tag in tags)
