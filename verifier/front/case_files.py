"""Kept cases as files; their layout is fixed by `shared/schema/case.schema.json`."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any, NoReturn

from verifier import __version__
from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.explain.playback import Occurs
from verifier.front.certificates import as_file_name
from verifier.front.folder import LARGEST_FILE
from verifier.front.outputs import job_names, write_text
from verifier.front.written import NotWritten
from verifier.handover.fingerprint import fingerprint_of
from verifier.handover.regression import ActedLine, DoesNotFailAgain, KeptCase, kept_case
from verifier.model.words import number
from verifier.pipeline import Question, Result
from verifier.source import Span

KIND = "duskproof case, 1"
"""What such a file says it is, with the number of its layout."""

ENDING = ".case.json"

_EXACT = re.compile(r"-?\d{1,30}(?:\.\d{1,30}|/[1-9]\d{0,29})?")


class NotACase(Exception):
    """A file that is no case; ``args[0]`` is the diagnostic."""


# ---------------------------------------------------------------- writing


def with_cases(results: tuple[Result, ...], question: Question, folder: Path) -> tuple[Result, ...]:
    """The results, each failing case of theirs written; with findings about those that were not.

    A file's name has the requirement and some letters of the hash of what happens, so that
    another case of the same requirement lies beside it and the same one is written once.
    """
    told = []
    for result, job in zip(results, job_names(results), strict=True):
        below = folder / job if len(results) > 1 else folder
        told.append(_with_cases(result, question, below))
    return tuple(told)


def _with_cases(result: Result, question: Question, folder: Path) -> Result:
    if result.job is None or result.rejected:
        return result
    stamp = (fingerprint_of(result.sources).whole, __version__)
    findings: list[Diagnostic] = []
    for requirement, verdict, _ in result.verdicts:
        kept = kept_case(
            result.job, result.sources, requirement, verdict, question.considered, stamp
        )
        if isinstance(kept, DoesNotFailAgain):
            findings.append(_not_kept(requirement.name, requirement.span))
        elif kept is not None:
            try:
                write_text(folder / case_name(kept), case_json(kept))
            except NotWritten as wrong:
                findings.append(wrong.args[0])
                break
    return replace(result, findings=(*result.findings, *findings))


def case_name(kept: KeptCase) -> str:
    """The name of its file."""
    happens = json.dumps(
        [
            kept.form,
            kept.start,
            [(number(o.at_s), o.what) for o in kept.occurs],
            None if kept.begins_s is None else number(kept.begins_s),
        ]
    )
    some = hashlib.sha256(happens.encode("utf-8")).hexdigest()[:6]
    return f"{as_file_name(kept.requirement)}-{some}{ENDING}"


def case_json(kept: KeptCase) -> str:
    """A kept case as text, with a line end after it."""
    whole = {
        "kind": KIND,
        "tool": "duskproof",
        "version": kept.version,
        "job": kept.job,
        "rules_sha256": kept.rules_sha256,
        "requirement": kept.requirement,
        "form": kept.form,
        "asked": kept.asked,
        "considered": list(kept.considered),
        "years": None if kept.years is None else list(kept.years),
        "begins_s": None if kept.begins_s is None else number(kept.begins_s),
        "timezone": kept.timezone,
        "start": dict(kept.start),
        "occurs": [{"at_s": number(o.at_s), "what": o.what} for o in kept.occurs],
        "fails": {"at_s": number(kept.fails_s), "just_after": kept.fails_just_after},
        "until_s": number(kept.until_s),
        "order": [
            {
                "what": what,
                "because": [{"file": a.file, "line": a.line, "text": a.text} for a in acted],
            }
            for what, acted in zip(kept.sequence, kept.order, strict=True)
        ],
    }
    return json.dumps(whole, indent=2, ensure_ascii=False) + "\n"


# ---------------------------------------------------------------- reading


def case_paths(given: str) -> list[Path]:
    """The files that a CASE names: itself, or all cases of a folder. Raises: NotACase."""
    path = Path(given)
    try:
        if not path.is_dir():
            if not path.exists():
                raise NotACase(_none(given, f'there is no file "{given}"'))
            return [path]
        found = sorted(path.rglob(f"*{ENDING}"))
    except (OSError, ValueError) as error:
        raise NotACase(_not_a_case(given, str(error).lower())) from error
    if not found:
        raise NotACase(_none(given, f'there is no file that ends in {ENDING} in "{given}"'))
    return found


def read_case(path: Path) -> KeptCase:
    """The case that a file holds. Raises: NotACase."""

    def fail(why: str) -> NoReturn:
        raise NotACase(_not_a_case(str(path), why))

    try:
        if not path.is_file():
            fail("it is no file")
        if path.stat().st_size > LARGEST_FILE:
            fail("it is far too large")
        whole = json.loads(path.read_bytes().decode("utf-8-sig"))
    except OSError as error:
        fail((error.strerror or "it cannot be read").lower())
    except UnicodeDecodeError:
        fail("it is not UTF-8 text")
    except (ValueError, RecursionError):
        fail("it is not JSON")
    if not isinstance(whole, dict) or whole.get("kind") != KIND:
        fail(f'it does not say "kind": "{KIND}"')
    return _Reader(fail).case(whole)


class _Reader:
    """Reads a case key by key; what is missing or of another kind is told."""

    def __init__(self, fail: Callable[[str], NoReturn]) -> None:
        self.fail = fail

    def case(self, whole: dict[str, Any]) -> KeptCase:
        """The whole of it."""
        fails, order = self.object(whole, "fails"), self.objects(whole, "order")
        occurs = tuple(
            Occurs(self.exact(each, "at_s"), self.text(each, "what"))
            for each in self.objects(whole, "occurs")
        )
        until_s = self.exact(whole, "until_s")
        moments = [Fraction(0), *(o.at_s for o in occurs), until_s]
        if moments != sorted(moments):
            self.fail('the moments of "occurs" do not follow each other, up to "until_s"')
        start = self.object(whole, "start")
        begins_s = None if whole.get("begins_s") is None else self.exact(whole, "begins_s")
        timezone = None if whole.get("timezone") is None else self.text(whole, "timezone")
        return KeptCase(
            self.text(whole, "job"),
            self.text(whole, "requirement"),
            self.text(whole, "form"),
            self.truth(whole, "asked"),
            tuple(self.texts(whole, "considered")),
            self.years(whole),
            tuple((subject, self.text(start, subject)) for subject in start),
            occurs,
            tuple(self.text(each, "what") for each in order),
            tuple(
                tuple(
                    ActedLine(self.text(a, "file"), self.line(a), self.text(a, "text"))
                    for a in self.objects(each, "because")
                )
                for each in order
            ),
            self.exact(fails, "at_s"),
            self.truth(fails, "just_after"),
            until_s,
            begins_s,
            timezone,
            self.text(whole, "rules_sha256"),
            self.text(whole, "version"),
        )

    def text(self, of: dict[str, Any], key: str) -> str:
        """A text."""
        found = of.get(key)
        if not isinstance(found, str):
            self.fail(f'"{key}" is no text')
        return found

    def truth(self, of: dict[str, Any], key: str) -> bool:
        """True or false."""
        found = of.get(key)
        if not isinstance(found, bool):
            self.fail(f'"{key}" is neither true nor false')
        return found

    def exact(self, of: dict[str, Any], key: str) -> Fraction:
        """An exact figure, written as a text."""
        found = self.text(of, key)
        if not _EXACT.fullmatch(found):
            self.fail(f'"{key}" is no exact figure such as "60", "0.5" or "20/3"')
        return Fraction(found)

    def texts(self, of: dict[str, Any], key: str) -> list[str]:
        """A list of texts."""
        found = of.get(key)
        if not isinstance(found, list) or not all(isinstance(one, str) for one in found):
            self.fail(f'"{key}" is no list of texts')
        return found

    def object(self, of: dict[str, Any], key: str) -> dict[str, Any]:
        """An object."""
        found = of.get(key)
        if not isinstance(found, dict):
            self.fail(f'"{key}" is no object')
        return found

    def objects(self, of: dict[str, Any], key: str) -> list[dict[str, Any]]:
        """A list of objects."""
        found = of.get(key)
        if not isinstance(found, list) or not all(isinstance(one, dict) for one in found):
            self.fail(f'"{key}" is no list of objects')
        return found

    def line(self, of: dict[str, Any]) -> int:
        """The number of a line."""
        found = of.get("line")
        if not isinstance(found, int) or isinstance(found, bool):
            self.fail('"line" is no number')
        return found

    def years(self, of: dict[str, Any]) -> tuple[int, int] | None:
        """First and last year."""
        found = of.get("years")
        if found is None:
            return None
        whole = isinstance(found, list) and len(found) == 2
        if not whole or not all(isinstance(y, int) and 1950 <= y <= 2150 for y in found):
            self.fail('"years" is not a first and a last year')
        return found[0], found[1]


# ---------------------------------------------------------------- what can be wrong


def _not_kept(name: str, span: Span) -> Diagnostic:
    return Diagnostic(
        "case-not-saved",
        Severity.NOTE,
        f"the failing case of {name} is not kept: played again it did not fail",
        (Label(span),),
        "Keep the run that is shown as a script (`duskproof try --help`).",
    )


def _none(given: str, message: str) -> Diagnostic:
    return Diagnostic(
        "no-cases",
        Severity.ERROR,
        message,
        (Label(Span(given, 0, 0)),),
        "Give files that `prove --save-case DIR` wrote, or the folder that holds them.",
    )


def _not_a_case(given: str, why: str) -> Diagnostic:
    return Diagnostic(
        "not-a-case",
        Severity.ERROR,
        f'"{given}" is no failing case that can be played: {why}',
        (Label(Span(given, 0, 0)),),
        "Give a file that `prove --save-case DIR` wrote.",
    )
