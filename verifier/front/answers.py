"""Answers to the questions of `duskproof new`, from a TOML file: each is checked, none is guessed."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from typing import Any, TypeVar

from verifier.front.figures import seconds_of
from verifier.front.first_job import INPUTS, NEVER, WHAT, Answers, Never, What, nevers_of

T = TypeVar("T")

LONGEST_S = 24 * 3600
LONGEST_LABEL = 60

_POWER = re.compile(r"(?:([1-9]\d{0,3})\s*x\s*)?(\d{1,5}(?:\.\d{1,3})?)\s*W?", re.IGNORECASE)


class WrongAnswer(Exception):
    """An answer that cannot be; ``args[0]`` says why."""


def label(text: str) -> str:
    """A label as it may stand in a job. Raises: WrongAnswer."""
    text = " ".join(text.split())
    if not text:
        raise WrongAnswer("give it a name, so that it can be spoken of")
    if '"' in text or not text.isprintable():
        raise WrongAnswer('write it without " and without control characters')
    if len(text) > LONGEST_LABEL:
        raise WrongAnswer(f"use {LONGEST_LABEL} characters at most")
    return text


def power(text: str) -> str:
    """A power as the language writes it; empty if it is not known. Raises: WrongAnswer."""
    text = text.strip()
    if not text:
        return ""
    found = _POWER.fullmatch(text)
    if found is None or not float(found[2]):
        raise WrongAnswer("write watts as in 18 W or 2 x 58 W, or nothing")
    return f"{found[1]} x {found[2]} W" if found[1] else f"{found[2]} W"


def seconds(text: str) -> Any:
    """A duration in seconds, a day at most. Raises: WrongAnswer."""
    found = seconds_of(text)
    if found is None:
        raise WrongAnswer('write a time as in "5 min", "90 s" or "1 min 30 s"')
    if found > LONGEST_S:
        raise WrongAnswer("a day at most")
    return found


def percent(text: str) -> int:
    """A level between 1 % and 99 %. Raises: WrongAnswer."""
    found = re.fullmatch(r"(\d{1,2})\s*%?", text.strip())
    if found is None or not int(found[1]):
        raise WrongAnswer("write a level between 1 % and 99 %")
    return int(found[1])


def what(text: str) -> What:
    """What sets the light going. Raises: WrongAnswer."""
    for each in WHAT:
        if text == each:
            return each
    raise WrongAnswer(f"write one of {', '.join(WHAT)}")


def never(text: str) -> Never:
    """Something that must never happen. Raises: WrongAnswer."""
    for each in NEVER:
        if text == each:
            return each
    raise WrongAnswer(f"write some of {', '.join(NEVER)}")


# ---------------------------------------------------------------- from a file

_READERS: Mapping[str, tuple[str, Callable[[str], Any]]] = {
    "place": ("place", label),
    "what": ("what", what),
    "input": ("input", label),
    "light": ("light", label),
    "power": ("power", power),
    "stays_on": ("stays_on_s", seconds),
    "warning": ("warning_s", seconds),
    "warning_level": ("warning_percent", percent),
}
_YES_OR_NO = ("dimmable", "by_night")


def answers_of(text: str) -> Answers:
    """The answers in a TOML text; what is left out is as usual. Raises: WrongAnswer."""
    try:
        given = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise WrongAnswer(f"this is not TOML: {error}") from error
    known = (*_READERS, *_YES_OR_NO, "never")
    for key in given:
        if key not in known:
            raise WrongAnswer(f'there is no answer "{key}"; there are {", ".join(known)}')
    found: dict[str, Any] = {}
    for key, (field, read) in _READERS.items():
        if key in given:
            found[field] = _read(key, given[key], read)
    for key in _YES_OR_NO:
        if key in given:
            if not isinstance(given[key], bool):
                raise WrongAnswer(f"{key}: write true or false")
            found[key] = given[key]
    found.setdefault("input", INPUTS[found.get("what", "detector")])
    answers = replace(Answers(), **found)
    assert set(found) <= {each.name for each in fields(Answers)}
    return replace(answers, never=_nevers(answers, given.get("never")))


def _read(key: str, value: Any, read: Callable[[str], T]) -> T:
    if not isinstance(value, str):
        raise WrongAnswer(f"{key}: write a text in quotation marks")
    try:
        return read(value)
    except WrongAnswer as wrong:
        raise WrongAnswer(f"{key}: {wrong.args[0]}") from wrong


def _nevers(answers: Answers, given: Any) -> tuple[Never, ...]:
    possible = nevers_of(answers)
    if given is None:
        return possible
    if not isinstance(given, list) or not given:
        raise WrongAnswer(f"never: write a list of some of {', '.join(possible)}")
    chosen = [_read("never", each, never) for each in given]
    for each in chosen:
        if each not in possible:
            needs = "by_night = true" if each == "by day" else "dimmable = true"
            raise WrongAnswer(f'never: "{each}" needs {needs}')
    return tuple(each for each in possible if each in chosen)
