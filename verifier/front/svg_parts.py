"""Parts of drawings in SVG that rules and who drives what have in common."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from verifier.front.shown import shown
from verifier.front.text_size import width_of

INK, FAINT, NEVER = "#1b1b1b", "#5c5c5c", "#8f1d15"
DASH = "6 4"
"""How a line is broken that is never gone."""


@dataclass(frozen=True, slots=True)
class Text:
    """A line of text; ``x`` is its middle, or its begin where it is not ``centred``."""

    words: str
    x: float
    y: float
    size: float
    bold: bool = False
    centred: bool = True
    fill: str = INK

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom, on the large side."""
        width = width_of(self.words, self.size, self.bold)
        left = self.x - width / 2 if self.centred else self.x
        return left, self.y - self.size * 0.95, left + width, self.y + self.size * 0.25

    def svg(self) -> str:
        """The element."""
        anchor = ' text-anchor="middle"' if self.centred else ""
        bold = ' font-weight="bold"' if self.bold else ""
        fill = "" if self.fill == INK else f' fill="{self.fill}"'
        return (
            f'<text x="{self.x:.1f}" y="{self.y:.1f}" font-size="{self.size:g}"{anchor}{bold}{fill}>'
            f"{escape(self.words)}</text>"
        )


@dataclass(frozen=True, slots=True)
class Drawing:
    """Shapes and texts of a size; shapes are SVG already, texts are drawn over them."""

    width: float
    height: float
    shapes: tuple[str, ...]
    texts: tuple[Text, ...]

    def svg(self, dx: float = 0.0, dy: float = 0.0) -> str:
        """The drawing as a group of elements, moved."""
        inner = "\n".join((*self.shapes, *(text.svg() for text in self.texts)))
        return f'<g transform="translate({dx:.1f} {dy:.1f})">\n{inner}\n</g>'


def whole_svg(drawings: Sequence[tuple[Drawing, float, float]], title: str, told: str) -> str:
    """Drawings at their places as a picture that stands alone, or in a page.

    It is as wide as they are and grows narrower with the page.
    """
    width = max((dx + drawing.width for drawing, dx, _ in drawings), default=100.0)
    height = max((dy + drawing.height for drawing, _, dy in drawings), default=40.0)
    size = f"{width:.0f} {height:.0f}"
    name = escape(shown(title))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size}" width="{width:.0f}" '
        f'height="{height:.0f}" role="img" aria-label="{name}" font-family="\'Helvetica Neue\', '
        f'Arial, \'Liberation Sans\', sans-serif" fill="{INK}">',
        f"<title>{name}</title>",
        f"<desc>{escape(shown(told))}</desc>",
        f'<rect width="{width:.0f}" height="{height:.0f}" fill="#ffffff"/>',
        *(drawing.svg(dx, dy) for drawing, dx, dy in drawings),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def arrow(x: float, y: float, way: str, fill: str = INK, hollow: bool = False) -> str:
    """The head of an arrow whose tip is at ``x``, ``y``, pointing ``down``, ``left`` or ``right``."""
    wings = {
        "down": ((-4.5, -9.0), (4.5, -9.0)),
        "left": ((9.0, -4.5), (9.0, 4.5)),
        "right": ((-9.0, -4.5), (-9.0, 4.5)),
    }[way]
    (ax, ay), (bx, by) = wings
    inside = "#ffffff" if hollow else fill
    return (
        f'<path d="M{x:.1f} {y:.1f}L{x + ax:.1f} {y + ay:.1f}L{x + bx:.1f} {y + by:.1f}Z" '
        f'fill="{inside}" stroke="{fill}"/>'
    )


def cross(x: float, y: float, size: float = 5.0, stroke: str = NEVER) -> str:
    """A cross over a line: it is never gone."""
    return (
        f'<path d="M{x - size:.1f} {y - size:.1f}L{x + size:.1f} {y + size:.1f}'
        f'M{x - size:.1f} {y + size:.1f}L{x + size:.1f} {y - size:.1f}" '
        f'fill="none" stroke="{stroke}" stroke-width="2.2"/>'
    )


def box_lines(
    lines: Iterable[tuple[str, bool]], middle: float, top: float, size: float, leading: float
) -> list[Text]:
    """Lines of text below each other, in the middle; each with whether it is bold."""
    return [
        Text(words, middle, top + leading * number + size, size, bold)
        for number, (words, bold) in enumerate(lines)
    ]
