"""The LALR driver: tokens and tables to raw nodes, one declaration at a time.

It shapes raw nodes as lark does (filtered tokens, taken-over children, ``?rules``), but knows the
span of every node, also of an empty one, and the depth of nesting below it.
"""

from __future__ import annotations

from dataclasses import dataclass

from verifier.language.lexer import END, NEWLINE, Lexer, Token
from verifier.language.tables import Production, Tables


class Raw:
    """A raw node: its rule's name, its children, where it stands and how deep it nests."""

    __slots__ = ("children", "depth", "end", "kind", "start")

    def __init__(
        self, kind: str, children: list[RawChild], start: int, end: int, depth: int
    ) -> None:
        self.kind = kind
        self.children = children
        self.start = start
        self.end = end
        self.depth = depth


RawChild = Raw | Token | None


@dataclass(frozen=True, slots=True)
class Trouble:
    """Where the grammar stopped: the token, those before it, and what could have stood there."""

    token: Token
    before: tuple[Token, ...]
    usable: frozenset[str]


@dataclass(frozen=True, slots=True)
class TooDeep:
    """Nesting beyond what is read."""

    token: Token


DEPTH_LIMIT = 132
"""Levels of raw nodes: an ``if`` takes three, a pair of parentheses one or two.

Low enough for every later pass to walk a tree by plain recursion.
"""


_OUTER = {"TYPICAL": "_END_TYPICAL", "STANDARD": "_END_STANDARD"}
"""Declarations that hold others, and what ends them."""


def parse_one(
    lexer: Lexer, tables: Tables, start: str, *, breaks_off: bool = False
) -> Raw | Trouble | TooDeep:
    """The raw node of one declaration (or of an asked form), or why there is none.

    ``breaks_off``: where the text ends, what could have stood there is told before the end is taken
    for a token that ends phrases.
    """
    states = [tables.first_states[start]]
    values: list[Raw | Token] = []
    tokens: list[Token] = []
    asked = start == "asked"
    outer = ""
    while True:
        token = lexer.next(tables.actions[states[-1]])
        if breaks_off and token.kind == END:
            return Trouble(token, tuple(tokens), frozenset(usable_kinds(states, tables)))
        found = _feed(token, states, values, tables)
        if found is not None:
            return (
                Trouble(token, tuple(tokens), frozenset(usable_kinds(states, tables)))
                if found
                else TooDeep(token)
            )
        if token.kind == END and asked:
            return _whole(values[0])
        tokens.append(token)
        if len(tokens) == 1:
            outer = _OUTER.get(token.kind, "")
        whole = token.kind == NEWLINE and (not outer or tokens[-2].kind == outer)
        if whole and not asked and END in tables.actions[states[-1]]:
            end = Token(END, "", token.end, token.end)
            if _feed(end, states, values, tables) is not None:
                return TooDeep(token)
            return _whole(values[0])


def _whole(value: Raw | Token) -> Raw:
    if not isinstance(value, Raw):
        raise AssertionError("driver: a start symbol reduced to a token")
    return value


def _feed(
    token: Token, states: list[int], values: list[Raw | Token], tables: Tables
) -> bool | None:
    """Take one token in. None: taken; True: the grammar cannot use it; False: nested too deep."""
    while True:
        action = tables.actions[states[-1]].get(token.kind, 0)
        if action == 0:
            return True
        if action > 0:
            states.append(action - 1)
            values.append(token)
            return None
        production = tables.productions[-action - 1]
        node = _reduce(production, values, token.start)
        if isinstance(node, Raw) and node.depth > DEPTH_LIMIT:
            return False
        if production.length:
            del states[-production.length :]
        states.append(tables.gotos[states[-1]][production.origin])
        values.append(node)
        if token.kind == END and states[-1] in tables.last_states:
            return None


def _reduce(production: Production, values: list[Raw | Token], ahead: int) -> Raw | Token:
    """The node of a production from the values on top of the stack, which it takes off."""
    length = production.length
    if not length:
        return Raw(production.node, [None] * len(production.keep), ahead, ahead, 1)
    parts = values[-length:]
    del values[-length:]
    children: list[RawChild]
    if 0 in production.inline and production.keep[0] == 0:
        first = parts[0]
        children = first.children if isinstance(first, Raw) else [first]
    else:
        children = []
    for place in production.keep:
        if place is None:
            children.append(None)
            continue
        part = parts[place]
        if place in production.inline and isinstance(part, Raw):
            if part.children is not children:
                children.extend(part.children)
        else:
            children.append(part)
    if production.passes and len(children) == 1:
        only = children[0]
        if only is not None:
            return only
    depth = max((part.depth for part in parts if isinstance(part, Raw)), default=0)
    if not production.node.startswith("_"):
        depth += 1
    start, end = _extent(parts)
    return Raw(production.node, children, start, end, depth)


def _extent(parts: list[Raw | Token]) -> tuple[int, int]:
    """From the first part to the last, newlines and empty nodes left out."""
    solid = [
        part
        for part in parts
        if (part.start < part.end if isinstance(part, Raw) else part.kind != NEWLINE)
    ]
    if not solid:
        return parts[0].start, parts[0].start
    return solid[0].start, solid[-1].end


def usable_kinds(states: list[int], tables: Tables) -> list[str]:
    """The terminals that can really follow: those that are shifted after all reductions."""
    kinds = []
    for kind in tables.actions[states[-1]]:
        trial = list(states)
        while True:
            action = tables.actions[trial[-1]].get(kind, 0)
            if action >= 0:
                break
            production = tables.productions[-action - 1]
            if production.length:
                del trial[-production.length :]
            trial.append(tables.gotos[trial[-1]][production.origin])
            if kind == END and trial[-1] in tables.last_states:
                action = 1
                break
        if action > 0:
            kinds.append(kind)
    return kinds
