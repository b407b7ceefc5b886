"""Texts that an author, a disk or an enemy could give: good jobs with something done to them."""

from __future__ import annotations

import functools
import re
from pathlib import Path
from random import Random

ROOT = Path(__file__).parents[2]

ODD = (
    "\x00", "\x1b[2J", "\u202e", "\u2066", "\ufeff", "\u00a0", "\u2028", "\x85", "é", "e\u0301",
    "倉", "👩\u200d🚒", "𝟙", "\ud7ff", "\uffff", '"', "“", "(", ")", "%", "#", "\t", "\r", "-", "_",
    "<script>alert(1)</script>", "0", "1e9", "999999999999999999999", "0.0000001", "-1", "25:61",
)  # fmt: skip
"""What is put in: controls, directions, look-alikes, quotes, figures out of range."""

_TOKEN = re.compile(r'"[^"\n]*"|\w+|\s+|[^\w\s]')


@functools.cache
def good_texts() -> tuple[str, ...]:
    """Every job of the project, a text each."""
    folders = (ROOT / "specs", ROOT / "shared" / "cases", ROOT / "tests" / "specs" / "published")
    paths = [path for folder in folders for path in sorted(folder.rglob("*.dusk"))]
    return tuple(path.read_text(encoding="utf-8") for path in paths)


@functools.cache
def words() -> tuple[str, ...]:
    """Every token that the good jobs hold."""
    found: dict[str, None] = {}
    for text in good_texts():
        found.update(dict.fromkeys(t for t in _TOKEN.findall(text) if not t.isspace()))
    return tuple(found)


def edited(rng: Random, edits: int | None = None) -> str:
    """A good job with a few things done to it."""
    text = rng.choice(good_texts())
    for _ in range(edits if edits is not None else rng.choice((1, 1, 1, 2, 3, 8))):
        text = rng.choice(_WAYS)(rng, text)
    return text


def _one_token(rng: Random, text: str) -> str:
    """A token taken out, doubled, or put in the place of another."""
    tokens = _TOKEN.findall(text)
    if not tokens:
        return text
    at = rng.randrange(len(tokens))
    match rng.randrange(4):
        case 0:
            del tokens[at]
        case 1:
            tokens.insert(at, tokens[at])
        case 2:
            tokens[at] = rng.choice(words())
        case _:
            tokens.insert(at, rng.choice(ODD))
    return "".join(tokens)


def _two_tokens(rng: Random, text: str) -> str:
    tokens = _TOKEN.findall(text)
    if len(tokens) < 2:
        return text
    a, b = rng.randrange(len(tokens)), rng.randrange(len(tokens))
    tokens[a], tokens[b] = tokens[b], tokens[a]
    return "".join(tokens)


def _lines(rng: Random, text: str) -> str:
    """A line taken out, doubled, moved, or taken from another job."""
    lines = text.split("\n")
    at, to = rng.randrange(len(lines)), rng.randrange(len(lines))
    match rng.randrange(4):
        case 0:
            del lines[at]
        case 1:
            lines.insert(to, lines[at])
        case 2:
            lines.insert(to, lines.pop(at))
        case _:
            lines.insert(to, rng.choice(rng.choice(good_texts()).split("\n")))
    return "\n".join(lines)


def _letter(rng: Random, text: str) -> str:
    at = rng.randrange(len(text) + 1)
    match rng.randrange(3):
        case 0:
            return text[:at] + text[at + 1 :]
        case 1:
            return (
                text[:at] + chr(rng.choice((rng.randrange(128), rng.randrange(0xD800)))) + text[at:]
            )
        case _:
            return text[:at] + rng.choice(ODD) + text[at:]


def _cut(rng: Random, text: str) -> str:
    return text[: rng.randrange(len(text) + 1)]


def _another(rng: Random, text: str) -> str:
    """Two jobs in one: names that stand twice."""
    return text + "\n" + rng.choice(good_texts())


_WAYS = (_one_token, _one_token, _one_token, _two_tokens, _lines, _lines, _letter, _cut, _another)
