"""``duskproof check-certificate``: certificates read from files, checked by both solvers.

No engine is loaded for it. Three things are told apart: that each text is unsatisfiable, that the
texts are those of a whole certificate, and (with the rules) that they are what the rules demand.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.front.certificates import CERTIFICATE, KIND
from verifier.front.figures import counted
from verifier.model.job import Job, Requirement
from verifier.proof.verdict import Alive, Certificate, LeftOut
from verifier.source import Span

LARGEST = 256 * 1024 * 1024
"""Bytes of one file."""

CONDITIONS = ("initial", "kept", "kept in time", "implies", "alive", "cover", "chain")
"""The texts of every certificate, in order."""

ALLOWED = frozenset({"set-logic", "declare-const", "assert", "check-sat"})
"""The commands of a text: with others a solver can be made to say what does not follow."""

_ALIVE: tuple[Alive, ...] = ("one step", "two steps", "own bounds")


@dataclass(frozen=True, slots=True)
class Read:
    """A certificate as its file has it; ``demand`` is the requirement in words."""

    place: str
    requirement: str
    demand: str
    certificate: Certificate


@dataclass(frozen=True, slots=True)
class Checked:
    """What is said of one certificate or text. ``refused``: empty if it was accepted."""

    place: str
    accepted: str
    refused: str
    unsure: bool = False


class CannotRead(Exception):
    """What was given is not a certificate; ``args[0]`` is the diagnostic."""


def found_below(given: str) -> Iterator[Path]:
    """Certificates and single texts that a FILE names. Raises: CannotRead."""
    path = Path(given)
    try:
        if path.is_dir():
            certificates = sorted(path.rglob(CERTIFICATE))
            if not certificates:
                raise CannotRead(
                    _error(
                        "no-certificate",
                        given,
                        f'there is no {CERTIFICATE} in "{given}" or below',
                        "Give the folder that `prove --certificates` wrote, or single .smt2 files.",
                    )
                )
            yield from certificates
        else:
            yield path
    except (OSError, ValueError) as error:
        raise CannotRead(_unreadable(given, error)) from error


def check_file(path: Path, limit_s: float, job: Job | None) -> Checked:
    """What comes out for one file. Raises: CannotRead."""
    if path.name != CERTIFICATE and path.suffix != ".json":
        return _solved(str(path), ((path.name, _text(path)),), limit_s, "unsatisfiable")
    read = read_certificate(path)
    wrong = _incomplete(read.certificate)
    if wrong:
        return Checked(read.place, "", wrong)
    told = _solved(read.place, read.certificate.texts, limit_s, "")
    if told.refused or job is None:
        return told
    return _against(read, job, limit_s)


def read_certificate(path: Path) -> Read:
    """The certificate that a file holds, with the texts beside it. Raises: CannotRead."""
    place = str(path)
    try:
        data = json.loads(_text(path))
    except (ValueError, RecursionError) as error:
        raise CannotRead(
            _error("not-a-certificate", place, f'"{place}" is not JSON', "Give another file.")
        ) from error
    try:
        if data["kind"] != KIND:
            raise ValueError(f'it says it is "{data["kind"]}", not "{KIND}"')
        return Read(
            str(path.parent),
            _string(data["requirement"]),
            _string(data["demand"]),
            _certificate(data, path.parent),
        )
    except (KeyError, TypeError, ValueError, AttributeError, IndexError) as error:
        what = f"{error} is missing" if isinstance(error, KeyError) else str(error)
        raise CannotRead(
            _error(
                "not-a-certificate",
                place,
                f'"{place}" is not a certificate that this version reads: {what}',
                "Write the certificates anew with `duskproof prove FOLDER --certificates DIR`.",
            )
        ) from error


def _certificate(data: dict[str, Any], folder: Path) -> Certificate:
    texts = []
    for each in data["texts"]:
        name = _string(each["file"])
        if Path(name).name != name or not name.endswith(".smt2"):
            raise ValueError(f'"{name}" is not the name of a text beside it')
        texts.append((_string(each["condition"]), _text(folder / name)))
    if data["alive"] not in _ALIVE:
        raise ValueError("`alive` is none of " + ", ".join(_ALIVE))
    claim = data["claim"]
    if not (claim is None or (isinstance(claim, int) and not isinstance(claim, bool))):
        raise ValueError("`claim` is not a whole number")
    left_out = tuple(
        LeftOut(
            tuple(tuple((_string(n), _number(bit)) for n, bit in cube) for cube in one["states"]),
            _string(one["reached"]),
            _string(one["after"]),
            _number(one["most"]),
        )
        for one in data["left_out"]
    )
    return Certificate(
        tuple(_string(lemma) for lemma in data["lemmas"]),
        tuple(texts),
        (),
        claim,
        cast(Alive, data["alive"]),
        left_out,
        _calendar(data.get("calendar")),
    )


def _calendar(value: object) -> tuple[int, int, int] | None:
    if value is None:
        return None
    if not isinstance(value, list) or len(value) != 3:
        raise ValueError("`calendar` is not two years and a number of seasons")
    first, last, seasons = (_number(each) for each in value)
    if not (1900 <= first <= last <= 2200 and last - first < 100 and 1 <= seasons <= 366):
        raise ValueError("`calendar` names years, or a number of seasons, that cannot be")
    return first, last, seasons


def _string(value: object) -> str:
    if not isinstance(value, str):
        raise ValueError("a text was expected")
    return value


def _number(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise ValueError("a whole number was expected")
    return value


def _incomplete(certificate: Certificate) -> str:
    """What a certificate lacks; empty if nothing."""
    names = [name for name, _ in certificate.texts]
    lacking = [f"“{name}”" for name in CONDITIONS if name not in names]
    if lacking:
        return f"it lacks the text of {' and '.join(lacking)}"
    return ""


def _solved(
    place: str, texts: tuple[tuple[str, str], ...], limit_s: float, accepted: str
) -> Checked:
    from verifier.proof.checker import check_texts
    from verifier.proof.closed import EvidenceFailed, NotChecked
    from verifier.proof.solvers import commands_of

    for name, text in texts:
        other = [c for c in commands_of(text) if c not in ALLOWED]
        if other:
            return Checked(place, "", f"“{name}” holds the command {other[0]}, which no text needs")
    try:
        check_texts(texts, limit_s)
    except EvidenceFailed as failure:
        return Checked(place, "", str(failure))
    except NotChecked as failure:
        return Checked(place, "", str(failure), unsure=True)
    told = accepted or f"{counted(len(texts), 'text')}, each unsatisfiable for z3 and for cvc5"
    return Checked(place, told, "")


def _against(read: Read, job: Job, limit_s: float) -> Checked:
    """The texts made anew from the rules."""
    from verifier.proof.checker import texts_anew
    from verifier.proof.closed import EvidenceFailed

    requirement, wrong = _requirement_of(read, job)
    if requirement is None:
        return Checked(read.place, "", wrong)
    try:
        texts = texts_anew(job, requirement, read.certificate)
    except (ValueError, KeyError, EvidenceFailed) as failure:
        return Checked(read.place, "", f"it is not one of these rules: {failure}")
    told = _solved(
        read.place,
        texts,
        limit_s,
        f"{counted(len(texts), 'text')} made anew from the rules, each unsatisfiable for z3 and cvc5",
    )
    if told.refused and not told.unsure:
        return Checked(read.place, "", f"it is not one of these rules: {told.refused}")
    return told


def _requirement_of(read: Read, job: Job) -> tuple[Requirement | None, str]:
    from verifier.model import check_form
    from verifier.model.words import requirement_words

    known = job.requirement.get(read.requirement)
    if known is not None and requirement_words(known) == read.demand:
        return known, ""
    if known is not None:
        return None, f"the rules' requirement {known.name} now reads: {requirement_words(known)}"
    asked, _, _ = check_form(read.demand, job, read.requirement)
    if asked is None:
        return None, f"the rules have no requirement {read.requirement}"
    return asked, ""


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > LARGEST:
            raise CannotRead(
                _error("file-too-large", str(path), f'"{path}" is too large for a certificate',
                       "Give another file.")
            )  # fmt: skip
        return path.read_text(encoding="utf-8")
    except (OSError, ValueError) as error:
        raise CannotRead(_unreadable(str(path), error)) from error


def _unreadable(place: str, error: OSError | ValueError) -> Diagnostic:
    words = (
        error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
    ) or "no reason"
    return _error(
        "file-not-readable",
        place,
        f'"{place}" cannot be read: {words.lower()}',
        "Give a certificate's folder, its certificate.json, or an .smt2 file.",
    )


def _error(code: str, place: str, message: str, hint: str) -> Diagnostic:
    return Diagnostic(code, Severity.ERROR, message, (Label(Span(place, 0, 0)),), hint)
