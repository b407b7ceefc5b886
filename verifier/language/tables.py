"""The grammar as tables: lark turns ``dusk.lark`` into them, and they are kept beside it.

Building costs about a tenth of a second (most of it lark's own start), reading the kept tables
a few milliseconds. They carry the grammar's checksum: kept tables of another grammar are not
used, new ones are built instead. ``python -m verifier.language.tables`` writes them anew.
"""

from __future__ import annotations

import functools
import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

STARTS = ("declaration", "asked")
"""The start symbols: one declaration of a file, and a requirement form standing alone."""

_GRAMMAR = "dusk.lark"
_TABLES = "dusk.tables.json"


@dataclass(frozen=True, slots=True)
class Production:
    """How one rule of the grammar reduces.

    ``keep`` lists what its node gets as children: a position among the symbols, or None for an
    optional part that is absent; ``inline`` the positions whose children are taken over.
    ``passes`` rules of one child stand for that child.
    """

    origin: str
    node: str
    length: int
    keep: tuple[int | None, ...]
    inline: frozenset[int]
    passes: bool


@dataclass(frozen=True)
class Tables:
    """The parser's tables.

    ``actions[state][terminal]`` is ``n > 0`` for "shift and go to state n - 1", ``n < 0`` for
    "reduce by production -n - 1". ``keywords`` map a word to its terminal, ``patterns`` are the
    other terminals and their regular expressions.
    """

    keywords: dict[str, str]
    patterns: tuple[tuple[str, str], ...]
    productions: tuple[Production, ...]
    actions: tuple[dict[str, int], ...]
    gotos: tuple[dict[str, int], ...]
    first_states: dict[str, int]
    last_states: frozenset[int]


def _folders() -> tuple[Path, ...]:
    """Where the grammar may lie: in an installed package, or in a checkout."""
    here = Path(__file__).resolve()
    return here.parents[1] / "_data" / "grammar", here.parents[2] / "grammar"


def _read(name: str) -> str | None:
    for folder in _folders():
        file = folder / name
        if file.is_file():
            return file.read_text(encoding="utf-8")
    return None


def grammar_text() -> str:
    """The text of the grammar.

    Raises: FileNotFoundError if the installation lacks it.
    """
    text = _read(_GRAMMAR)
    if text is None:
        raise FileNotFoundError(f"the installation lacks its grammar {_GRAMMAR}")
    return text


def checksum(grammar: str) -> str:
    """What ties kept tables to the grammar that they were built from."""
    return hashlib.sha256(grammar.encode()).hexdigest()


@functools.cache
def tables() -> Tables:
    """The tables of the grammar: the kept ones if they fit, else built."""
    grammar = grammar_text()
    kept = _read(_TABLES)
    if kept is not None:
        data = json.loads(kept)
        if data.get("grammar") == checksum(grammar):
            return _from_data(data)
    return _from_data(build(grammar))


def _from_data(data: dict[str, Any]) -> Tables:
    rows = data["rows"]
    return Tables(
        keywords=data["keywords"],
        patterns=tuple((name, pattern) for name, pattern in data["patterns"]),
        productions=tuple(
            Production(origin, node, length, tuple(keep), frozenset(inline), passes)
            for origin, node, length, keep, inline, passes in data["productions"]
        ),
        actions=tuple(rows[number] for number in data["actions"]),
        gotos=tuple(rows[number] for number in data["gotos"]),
        first_states=data["first_states"],
        last_states=frozenset(data["last_states"]),
    )


def build(grammar: str) -> dict[str, Any]:
    """The tables of a grammar as plain data, built by lark.

    Raises: lark.GrammarError if the grammar is at fault.
    """
    from lark import Lark
    from lark.parsers.lalr_analysis import Shift

    parser = Lark(
        grammar, parser="lalr", lexer="basic", start=list(STARTS), maybe_placeholders=True
    )
    table = parser.parser.parser._parse_table
    rules = sorted(parser.rules, key=_shape)
    number_of = {rule: number for number, rule in enumerate(rules)}
    rows: list[dict[str, int]] = []
    seen: dict[str, int] = {}

    def kept(row: dict[str, int]) -> int:
        key = json.dumps(row, sort_keys=True)
        if key not in seen:
            seen[key] = len(rows)
            rows.append(dict(sorted(row.items())))
        return seen[key]

    actions: list[int] = []
    gotos: list[int] = []
    is_terminal = {terminal.name for terminal in parser.terminals} | {"$END"}
    order = _in_order(table.states, [table.start_states[start] for start in STARTS], Shift)
    number_of_state = {state: number for number, state in enumerate(order)}
    for state in order:
        action: dict[str, int] = {}
        goto: dict[str, int] = {}
        for symbol, (kind, argument) in table.states[state].items():
            if symbol not in is_terminal:
                goto[symbol] = number_of_state[argument]
            elif kind is Shift:
                action[symbol] = number_of_state[argument] + 1
            else:
                action[symbol] = -number_of[argument] - 1
        actions.append(kept(action))
        gotos.append(kept(goto))
    keywords, patterns = _terminals(parser.terminals, parser.ignore_tokens)
    return {
        "grammar": checksum(grammar),
        "keywords": keywords,
        "patterns": patterns,
        "productions": [_production(rule) for rule in rules],
        "rows": rows,
        "actions": actions,
        "gotos": gotos,
        "first_states": {start: number_of_state[table.start_states[start]] for start in STARTS},
        "last_states": sorted(number_of_state[table.end_states[start]] for start in STARTS),
    }


def _in_order(states: Any, starts: list[int], shift: Any) -> list[int]:
    """The states in an order of their own: breadth first, symbols by name.

    lark numbers them by the order of its sets, which differs from run to run.
    """
    order = list(starts)
    seen = set(starts)
    for state in order:
        for _, (kind, argument) in sorted(states[state].items()):
            if kind is shift and argument not in seen:
                seen.add(argument)
                order.append(argument)
    return order


def _terminals(terminals: Any, ignored: Any) -> tuple[dict[str, str], list[tuple[str, str]]]:
    """Keywords by word, and the other terminals with their patterns, in order of name."""
    keywords: dict[str, str] = {}
    patterns: list[tuple[str, str]] = []
    for terminal in sorted(terminals, key=lambda each: each.name):
        if terminal.name in ignored:
            continue
        if terminal.pattern.type == "str" and terminal.pattern.value.isalpha():
            keywords[terminal.pattern.value] = terminal.name
        else:
            patterns.append((terminal.name, terminal.pattern.to_regexp()))
    return dict(sorted(keywords.items())), patterns


def _shape(rule: Any) -> tuple[str, tuple[str, ...], str]:
    return rule.origin.name, tuple(symbol.name for symbol in rule.expansion), rule.alias or ""


def _production(rule: Any) -> tuple[str, str, int, list[int | None], list[int], bool]:
    """One of lark's rules in our form, with lark's own rules for shaping a tree."""
    absent: list[int] = [0] * (len(rule.expansion) + 1)
    if rule.options.empty_indices:
        bits = "".join(str(int(bit)) for bit in rule.options.empty_indices)
        absent = [len(ones) for ones in bits.split("0")]
    keep: list[int | None] = []
    inline: list[int] = []
    for position, symbol in enumerate(rule.expansion):
        keep.extend([None] * absent[position])
        if symbol.is_term:
            if rule.options.keep_all_tokens or not symbol.filter_out:
                keep.append(position)
        else:
            keep.append(position)
            if symbol.name.startswith("_"):
                inline.append(position)
    keep.extend([None] * absent[-1])
    name = rule.origin.name
    passes = bool(rule.options.expand1) and rule.alias is None
    return name, rule.alias or name, len(rule.expansion), keep, inline, passes


def main() -> None:
    """Write the tables beside the grammar of this checkout."""
    folder = Path(__file__).resolve().parents[2] / "grammar"
    grammar = (folder / _GRAMMAR).read_text(encoding="utf-8")
    text = json.dumps(build(grammar), separators=(",", ":"))
    (folder / _TABLES).write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
