"""The words of the language by what they are for, taken from the grammar; a TextMate grammar of them.

``python -m verifier.language.highlighting`` writes ``grammar/duskproof.tmLanguage.json`` anew. A
keyword that the grammar gains is in one of the groups here by itself; a test compares.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from verifier.language.expected import DECLARATIONS, word_of
from verifier.language.tables import tables

FILE = "duskproof.tmLanguage.json"

NAMED = tuple(
    word for word in DECLARATIONS if word not in ("site", "assume", "consider", "usage", "apply")
)
"""The words after which the name of what is declared stands."""

_CONTROL = (
    "if",
    "then",
    "elsif",
    "else",
    "repeat",
    "until",
    "wait",
    "fade",
    "to",
    "over",
    "cancel",
    "do",
    "timed",
    "out",
    "end if",
    "end repeat",
    "end run",
)
"""What steers the body of a rule."""

_OPERATORS = ("and", "or", "not", "implies", "all of", "any of")

_VALUES = (
    "open",
    "closed",
    "shut",
    "reached",
    "clear",
    "occupied",
    "vacant",
    "on",
    "off",
    "dark",
    "bright",
    "yes",
    "raised",
    "lowered",
    "moving",
    "stopped",
    "anywhere",
    "peopled",
    "empty",
    "running",
)
"""Words that are values where a value stands; most of them are names to the grammar."""

CLOCK = r"\b\d{1,2}:\d{2}(?!\d)"
FIGURE = r"-?\b\d+(?:\.\d+)?\s*(?:ms\b|s\b|min\b|h\b|kW\b|W\b|deg\b|%)|-?\b\d+(?:\.\d+)?\b"
COMMENT = r"#.*$"
LABEL = r'"[^"\n]*"'
NAME = r"[A-Za-z][A-Za-z0-9_]*(?:\.[A-Za-z][A-Za-z0-9_]*)*"


@dataclass(frozen=True, slots=True)
class Words:
    """All words of the language, each in one group, in alphabetical order; phrases of several words first."""

    declarations: tuple[str, ...]
    control: tuple[str, ...]
    operators: tuple[str, ...]
    others: tuple[str, ...]
    values: tuple[str, ...]

    @property
    def keywords(self) -> tuple[str, ...]:
        """All but the values."""
        return (*self.declarations, *self.control, *self.operators, *self.others)


def phrases() -> tuple[str, ...]:
    """All keywords of the grammar, those of several words with single blanks between.

    >>> [word for word in phrases() if word.startswith("end r")]
    ['end repeat', 'end require', 'end room', 'end rule', 'end run']
    """
    joined = [
        word_of(kind).strip("`")
        for kind, _ in tables().patterns
        if kind.startswith("_") and kind not in ("_NL", "_COMMA_AT_MOST")
    ]
    return tuple(sorted({*tables().keywords, *joined}))


def words() -> Words:
    """The words of the language by what they are for."""
    every = phrases()
    ends = {word for word in every if word.startswith("end ")} - set(_CONTROL)
    declarations = _several_first(
        word for word in every if word in ends or word in (*DECLARATIONS, "as", "with")
    )
    control = _several_first(word for word in every if word in _CONTROL)
    operators = _several_first(word for word in every if word in _OPERATORS)
    taken = {*declarations, *control, *operators, *_VALUES}
    others = _several_first(word for word in every if word not in taken)
    values = tuple(sorted(_VALUES))
    return Words(declarations, control, operators, others, values)


def _several_first(found: Any) -> tuple[str, ...]:
    return tuple(sorted(found, key=lambda word: (-word.count(" "), word)))


def pattern(group: tuple[str, ...]) -> str:
    """A regular expression for the words of a group, not inside a name.

    >>> bool(re.search(pattern(("end rule", "rule")), "end   rule"))
    True
    >>> bool(re.search(pattern(("up",)), "wall_up"))
    False
    """
    alternatives = "|".join(
        re.escape(word).replace("\\-", "-").replace("\\ ", "[ \\t]+") for word in group
    )
    return rf"(?<![\w.-])(?:{alternatives})(?![\w.-])"


def text_mate() -> dict[str, Any]:
    """A TextMate grammar as plain data: for editors that colour by one."""
    each = words()

    def one(scope: str, match: str) -> dict[str, str]:
        return {"name": f"{scope}.duskproof", "match": match}

    return {
        "name": "Duskproof",
        "scopeName": "source.duskproof",
        "fileTypes": ["dusk"],
        "patterns": [
            one("comment.line.number-sign", COMMENT),
            one("string.quoted.double", LABEL),
            {
                "match": rf"^[ \t]*({pattern(NAMED)})[ \t]+({NAME})",
                "captures": {
                    "1": {"name": "keyword.declaration.duskproof"},
                    "2": {"name": "entity.name.duskproof"},
                },
            },
            one("keyword.declaration", pattern(each.declarations)),
            one("keyword.control", pattern(each.control)),
            one("keyword.operator.word", pattern(each.operators)),
            one("constant.numeric.time", CLOCK),
            one("constant.numeric", FIGURE),
            one("keyword.other", pattern(each.others)),
            one("constant.language", pattern(each.values)),
            one("variable.other", NAME),
        ],
    }


def text_mate_text() -> str:
    """The TextMate grammar as it stands in its file."""
    return json.dumps(text_mate(), indent=2, ensure_ascii=False) + "\n"


def main() -> None:
    """Writes the TextMate grammar beside the grammar of this checkout."""
    folder = Path(__file__).resolve().parents[2] / "grammar"
    (folder / FILE).write_text(text_mate_text(), encoding="utf-8")


if __name__ == "__main__":
    main()
