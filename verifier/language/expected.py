"""What can stand at a place, in words."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

DECLARATIONS = (
    "site",
    "setting",
    "contact",
    "limit",
    "detector",
    "button",
    "switch",
    "photocell",
    "lamp",
    "dimmer",
    "load",
    "flag",
    "door",
    "room",
    "rule",
    "assume",
    "consider",
    "require",
    "standard",
    "usage",
    "typical",
    "apply",
)
"""The words that begin a declaration."""

FORMS = (
    "`always:`, `never:`, `when`, `after last`, `before`, `no longer than`, `no shorter than`, `at most`, "
    "`every trigger of`, `possible:` or `measure longest:`; `while CONDITION:` may stand before it"
)

_WORDS = {
    "NAME": "a name",
    "LABEL": "a label in quotation marks",
    "FIGURE": "a figure with its unit",
    "NUMBER": "a number",
    "CLOCK": "a clock time",
    "LPAR": "`(`",
    "RPAR": "`)`",
    "COLON": "`:`",
    "COMMA": "`,`",
    "_NL": "the end of the line",
    "$END": "the end",
    "_NON_RETRIGGERABLE": "`non-retriggerable`",
    "_A_KWH_COSTS": "`a kWh costs`",
    "_COMMA_AT_MOST": "`, at most`",
    "_ALL_OF": "`all of`",
    "_ANY_OF": "`any of`",
    "_TAKES_SEVERAL": "`takes several`",
    "_MODELLED_ON": "`modelled on`",
    "_APPLIES_TO": "`applies to`",
    "_LOST_REPORTS_OF": "`lost reports of`",
    "_BOUNCE_OF": "`bounce of`",
    "_BROKEN_WIRE_OF": "`broken wire of`",
    "_BOTH_LIMITS_OF": "`both limits of`",
}
_FIRST = ("NAME", "FIGURE", "NUMBER", "CLOCK", "LABEL")
_MOST = 8


def word_of(kind: str) -> str:
    """A terminal in words.

    >>> word_of("THEN"), word_of("_END_IF"), word_of("_NL")
    ('`then`', '`end if`', 'the end of the line')
    """
    if kind in _WORDS:
        return _WORDS[kind]
    if kind.startswith("_END_"):
        return f"`end {kind[5:].lower()}`"
    return f"`{kind.lower()}`"


def what_fits(usable: Iterable[str]) -> str:
    """What can stand at a place: names and figures first, then words, at most eight.

    >>> what_fits(frozenset({"OR", "NAME", "THEN"}))
    'a name, `or` or `then`'
    """
    kinds = sorted(usable, key=lambda kind: (_FIRST.index(kind) if kind in _FIRST else 9, kind))
    if "FIGURE" in kinds:
        kinds = [kind for kind in kinds if kind not in ("NUMBER", "CLOCK")]
    words = [word_of(kind) for kind in kinds]
    if len(words) > _MOST:
        return ", ".join(words[:_MOST]) + ", …"
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def near_keyword(word: str, usable: Iterable[str]) -> str:
    """The usable keyword that is nearest to a word, empty if none is near."""
    keywords = sorted(kind.lower() for kind in usable if kind.isalpha())
    near = get_close_matches(word.lower(), keywords, n=1, cutoff=0.7)
    return near[0] if near else ""
