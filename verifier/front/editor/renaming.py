"""A name given another one, in all files of a job; refused where something else would be meant."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, replace

from verifier.diagnostics import Severity
from verifier.explain.edits import Edit, edited
from verifier.language.highlighting import NAME
from verifier.language.lexer import RESERVED
from verifier.model.checking import parsed
from verifier.model.mentions import Mention, Mentions, Symbol
from verifier.source import SourceFile, Sources


@dataclass(frozen=True, slots=True)
class Refused:
    """Why a name is not given another one, in words."""

    words: str


def rename(
    sources: Sources, mentions: Mentions, mention: Mention, new: str
) -> tuple[Edit, ...] | Refused:
    """The edits that give what is named at a place another name, or why it cannot be.

    It is tried: with the edits made, every name must stand for what it stood for.
    """
    symbol = mention.symbols[0]
    if not re.fullmatch(NAME, new) or "." in new:
        return Refused(f"“{new}” is no name: a letter, then letters, digits and `_`")
    if new in RESERVED:
        return Refused(f"`{new}` cannot be a name: it begins a phrase of the language")
    declared = mentions.declared[symbol]
    if any(each.span.file not in sources.by_name for each in declared):
        return Refused(f"{symbol.name} is a standard requirement: it comes with the tool")
    if new == symbol.name:
        return ()
    unread = next((file.name for file in sources.files if _has_mistakes(file)), None)
    if unread is not None:
        return Refused(
            f"{unread} has a mistake that keeps it from being read: mend it first, as {symbol.name} "
            "may stand there, too"
        )
    if replace(symbol, name=new) in mentions.declared:
        return Refused(f"there is something called {new} already")
    places = mentions.of(symbol)
    if any(len(each.symbols) > 1 for each in places):
        return Refused(
            f"{symbol.name} stands for several things where it is written in a typical that is "
            "applied in several places: write it by hand"
        )
    edits = tuple(Edit(each.span, new) for each in places)
    if _meant(mentions, symbol, new) != _meant(_read(edited(sources, edits), mentions)):
        return Refused(f"with the name {new} something else would be meant in another place")
    return edits


def _has_mistakes(file: SourceFile) -> bool:
    """Whether something of a file cannot be read."""
    return any(mistake.severity is Severity.ERROR for mistake in parsed(file)[1])


def _read(sources: Sources, before: Mentions) -> Mentions:
    trees = [parsed(file)[0] for file in sources.files]
    return Mentions(trees, before.library)


def _meant(
    mentions: Mentions, old: Symbol | None = None, new: str = ""
) -> Counter[tuple[str, tuple[Symbol, ...], bool]]:
    """What is named in each file, and how often; with ``old`` under its new name."""

    def named(symbol: Symbol) -> Symbol:
        if old is None:
            return symbol
        if symbol == old:
            return replace(symbol, name=new)
        # What stands in a typical or standard is told by its name.
        outer = old.group in ("typical", "standard") and symbol.inside == old.name
        return replace(symbol, inside=new) if outer else symbol

    return Counter(
        (each.span.file, tuple(named(symbol) for symbol in each.symbols), each.declares)
        for each in mentions.all
    )
