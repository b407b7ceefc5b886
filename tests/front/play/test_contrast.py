"""The page's colours, light and dark: the contrast that WCAG 2.2 AA asks, by its own formula.

Source: WCAG 2.2, success criteria 1.4.3 (text: 4.5) and 1.4.11 (what one has to see to operate or
understand: 3), and its definitions of relative luminance and contrast ratio.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

STYLE = (Path(__file__).parents[3] / "verifier/front/play/page/page.css").read_text("utf-8")

TEXT = [
    *((ink, ground) for ink in ("ink", "faint") for ground in ("paper", "wall", "active")),
    *((ink, "paper") for ink in ("good", "bad", "open", "strong")),
    *((ink, "wall") for ink in ("good", "bad", "open", "strong")),
    *((f"code-{kind}", ground) for kind in ("keyword", "comment", "label", "figure")
      for ground in ("paper", "active", "lit", "chosen")),
    ("ink", "chosen"), ("ink", "lit"), ("lit-ink", "lit"), ("on-strong", "strong"),
]  # fmt: skip
"""What is read, and on which ground."""

SEEN = [
    *((edge, ground) for edge in ("line", "focus", "strong") for ground in ("paper", "wall")),
    *((f"{kind}-edge", "paper") for kind in ("outside", "output", "rule", "claim")),
    ("lit-edge", "lit"), ("bad", "paper"), ("sun-edge", "sky"), ("sun-edge", "lamp"),
    ("edge", "day-wall"), ("night-edge", "night-wall"), ("night-edge", "night"),
    ("leaf-edge", "leaf"), ("person-edge", "person"), ("lamp", "night-wall"),
]  # fmt: skip
"""What one has to see, and beside which ground."""


def schemes() -> dict[str, dict[str, str]]:
    """The named colours of both schemes."""
    light, dark = re.findall(r":root \{(.*?)\}", STYLE, re.S)
    named = {name: dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", text)) for name, text in
             (("light", light), ("dark", dark))}  # fmt: skip
    return {"light": named["light"], "dark": named["light"] | named["dark"]}


def luminance(colour: str) -> float:
    channels = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    red, green, blue = (
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Black on white is 21, by the norm's own words.

    >>> contrast("#000000", "#ffffff")
    21.0
    """
    bright, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_can_be_read_on_its_ground(scheme: str) -> None:
    colours = schemes()[scheme]
    faint = {f"{i} on {g}": round(contrast(colours[i], colours[g]), 2) for i, g in TEXT}
    assert {pair: figure for pair, figure in faint.items() if figure < 4.5} == {}


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_edges_and_focus_can_be_seen(scheme: str) -> None:
    colours = schemes()[scheme]
    faint = {f"{i} by {g}": round(contrast(colours[i], colours[g]), 2) for i, g in SEEN}
    assert {pair: figure for pair, figure in faint.items() if figure < 3} == {}


def test_black_on_white_is_twenty_one_to_one() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") < 4.5 < contrast("#767676", "#ffffff")


def test_every_colour_of_the_style_has_a_name_that_both_schemes_give() -> None:
    named = schemes()
    used = set(re.findall(r"var\(--([\w-]+)\)", STYLE))
    assert used <= named["light"].keys()
    assert len(named["dark"]) == len(named["light"])
