"""A lexer for Pygments, so that rules are coloured in documents and terminals.

Its words are the grammar's own (:mod:`verifier.language.highlighting`); Pygments finds it by the
entry point ``pygments.lexers``.
"""

from __future__ import annotations

import re
from typing import ClassVar

from pygments.lexer import RegexLexer, bygroups
from pygments.token import Comment, Keyword, Name, Number, Operator, Punctuation, String, Text

from verifier.language.highlighting import (
    CLOCK,
    COMMENT,
    FIGURE,
    LABEL,
    NAME,
    NAMED,
    pattern,
    words,
)

_WORDS = words()
_DECLARES = pattern(NAMED)


class DuskLexer(RegexLexer):  # type: ignore[misc]
    """Colours rules: declarations, what steers a body, operators, figures, labels, values and names."""

    name = "Duskproof"
    aliases: ClassVar[list[str]] = ["duskproof", "dusk"]
    filenames: ClassVar[list[str]] = ["*.dusk"]
    flags = re.MULTILINE
    tokens: ClassVar[dict[str, list[object]]] = {
        "root": [
            (
                rf"^([ \t]*)({_DECLARES})([ \t]+)({NAME})",
                bygroups(
                    Text.Whitespace, Keyword.Declaration, Text.Whitespace, Name.Variable.Global
                ),
            ),
            (r"\n|[^\S\n]+", Text.Whitespace),
            (COMMENT, Comment.Single),
            (LABEL, String.Double),
            (pattern(_WORDS.declarations), Keyword.Declaration),
            (pattern(_WORDS.control), Keyword),
            (pattern(_WORDS.operators), Operator.Word),
            (CLOCK, Number),
            (FIGURE, Number),
            (pattern(_WORDS.others), Keyword.Type),
            (pattern(_WORDS.values), Keyword.Constant),
            (NAME, Name),
            (r"[(),:]", Punctuation),
            (r".", Text),
        ]
    }
