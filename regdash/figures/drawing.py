"""
Vector drawing: a few marks on a page of fixed size, written as SVG 1.1. Marks carry classes, never colours, so that one
drawing serves light and dark screens and paper; `style.py` says what the classes look like.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from regdash.figures.style import PRINT_CSS, TEXT

WIDTH = 720.0
Point = tuple[float, float]


@dataclass(frozen=True)
class Picture:
    """A finished drawing: its size in user units, and its marks as SVG without the outer element."""

    width: float
    height: float
    marks: tuple[ET.Element, ...]


class Drawing:
    """Collects marks; y runs down from the top."""

    def __init__(self, height: float, width: float = WIDTH) -> None:
        self.width, self.height = width, height
        self._marks: list[ET.Element] = []

    def line(self, start: Point, end: Point, kind: str) -> None:
        """Draw a straight line."""
        (x1, y1), (x2, y2) = start, end
        self._add("line", kind, x1=x1, y1=y1, x2=x2, y2=y2)

    def path(self, points: Sequence[Point], kind: str, closed: bool = False) -> None:
        """Draw a line through points, or the area they enclose."""
        if points:
            moves = " ".join(f"{'M' if n == 0 else 'L'}{written(x)} {written(y)}" for n, (x, y) in enumerate(points))
            self._marks.append(ET.Element("path", {"d": moves + ("Z" if closed else ""), "class": kind}))

    def box(self, x: float, y: float, width: float, height: float, kind: str) -> None:
        """Draw a filled rectangle."""
        self._add("rect", kind, x=x, y=y, width=max(width, 0.0), height=max(height, 0.0))

    def mark(self, x: float, y: float, series: int, size: float = 4.0) -> None:
        """Draw the mark of a series: each has a shape of its own."""
        shapes: tuple[tuple[Point, ...], ...] = (
            ((-1, -1), (1, -1), (1, 1), (-1, 1)),
            ((0, -1.3), (1.2, 1), (-1.2, 1)),
            ((0, -1.4), (1.4, 0), (0, 1.4), (-1.4, 0)),
            ((-1.2, -1), (1.2, -1), (0, 1.3)),
            ((-1.5, -0.6), (1.5, -0.6), (1.5, 0.6), (-1.5, 0.6)),
            ((-0.6, -1.5), (0.6, -1.5), (0.6, 1.5), (-0.6, 1.5)),
        )
        shape = shapes[series % len(shapes)]
        self.path([(x + size * dx, y + size * dy) for dx, dy in shape], f"f{series % len(shapes)}", closed=True)

    def text(self, x: float, y: float, text: str, kind: str = TEXT, anchor: str = "start") -> None:
        """Write a line of text; y is its baseline."""
        element = self._add("text", kind, x=x, y=y)
        element.text = text
        if anchor != "start":
            element.set("text-anchor", anchor)

    def done(self) -> Picture:
        """Finish."""
        return Picture(self.width, self.height, tuple(self._marks))

    def _add(self, tag: str, kind: str, **places: float) -> ET.Element:
        element = ET.Element(tag, {name: written(value) for name, value in places.items()} | {"class": kind})
        self._marks.append(element)
        return element


def written(value: float) -> str:
    """
    Write a place in user units: a hundredth is finer than any printer.

    >>> written(3.14159), written(10.0), written(-0.001)
    ('3.14', '10', '0')
    """
    text = f"{value:z.2f}".rstrip("0").rstrip(".")
    return text or "0"


def as_svg(picture: Picture, name: str, title: str, alt: str, css: str | None = PRINT_CSS) -> str:
    """
    Write a picture as an SVG element that a screen reader can tell.

    Args:
        name: unique on its page; the ids of title and description begin with it.
        css: the look of the classes; None where the page that holds the picture has it.
    """
    root = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {written(picture.width)} {written(picture.height)}",
            "role": "img",
            "aria-labelledby": f"{name}-title {name}-alt",
            "class": "figure",
        },
    )
    ET.SubElement(root, "title", {"id": f"{name}-title"}).text = title
    ET.SubElement(root, "desc", {"id": f"{name}-alt"}).text = alt
    if css is not None:
        root.set("width", written(picture.width))
        root.set("height", written(picture.height))
        ET.SubElement(root, "style").text = css
    root.extend(picture.marks)
    return ET.tostring(root, encoding="unicode")


def text_width(text: str, size: float = 13.0) -> float:
    """Guess the width of a text in user units; fonts differ, so it is a generous guess."""
    return len(text) * size * 0.56


def shortened(text: str, most: int) -> str:
    """
    Cut a label to so many characters.

    >>> shortened("progression of disease", 12)
    'progression…'
    """
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"
