"""A reader of SMT-LIB that shares nothing with the writer: texts as Python functions of values.

Only what certificates are made of: Bools and Reals by name, `and or not => = < <= > >= + -`, numbers.
Numbers are read as floats; all that the tests put in are multiples of a half, so they are exact.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

Values = Mapping[str, bool | float]
Holds = Callable[[Values], bool]

_TOKEN = re.compile(r"\|[^|]*\||[()]|[^\s()]+")


def assertions(text: str) -> list[Holds]:
    """Each assertion of a text, in order."""
    found = []
    for line in text.splitlines():
        if line.startswith("(assert "):
            found.append(holds(line[len("(assert ") : -1]))
    return found


def holds(term: str) -> Holds:
    """A term as a function of the values of its names."""
    tokens = _TOKEN.findall(term)
    source, rest = _read(tokens, 0)
    assert rest == len(tokens), "one term"
    made: Holds = eval(f"lambda V: {source}", {})
    return made


def _read(tokens: list[str], at: int) -> tuple[str, int]:
    token = tokens[at]
    if token != "(":
        if token.startswith("|"):
            return f"V[{token[1:-1]!r}]", at + 1
        if token in ("true", "false"):
            return token.title(), at + 1
        return repr(float(token)), at + 1
    operator, at = tokens[at + 1], at + 2
    parts: list[str] = []
    while tokens[at] != ")":
        part, at = _read(tokens, at)
        parts.append(part)
    return f"({_joined(operator, parts)})", at + 1


def _joined(operator: str, parts: list[str]) -> str:
    match operator:
        case "and" | "or":
            return f" {operator} ".join(parts)
        case "not":
            return f"not {parts[0]}"
        case "=>":
            return f"not {parts[0]} or {parts[1]}"
        case "=":
            return f"{parts[0]} == {parts[1]}"
        case "-" if len(parts) == 1:
            return f"-{parts[0]}"
        case "<" | "<=" | ">" | ">=" | "+" | "-":
            return f" {operator} ".join(parts)
        case _:
            raise AssertionError(operator)
