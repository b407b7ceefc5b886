"""Certificates as files: each condition as SMT-LIB text that any solver can check."""

from __future__ import annotations

import re
from pathlib import Path

from verifier.model.job import Requirement
from verifier.model.words import requirement_words
from verifier.pipeline import Result
from verifier.proof.verdict import Certificate, Undecided, Verdict

_PAGE = """\
# {job}: {name}

What is proved: {demand}

Every .smt2 file of this folder is one condition of the proof; a solver must answer `unsat` to each
(`z3 FILE`, `cvc5 FILE`). Checked so by: {solvers}. `lemmas.txt` holds the invariant, one lemma a line.
Files named `left-out` (if there are any) show why states in which what is assumed contradicts itself
are no part of any run: from them only so much time can pass.
"""


def certificate_files(results: tuple[Result, ...]) -> tuple[tuple[str, str], ...]:
    """(path below the folder of certificates, text) of every file, in order of the verdicts."""
    files: list[tuple[str, str]] = []
    seen: dict[str, int] = {}
    for result in results:
        number = seen[result.name] = seen.get(result.name, 0) + 1
        job = result.name if number == 1 else f"{result.name}-{number}"
        for requirement, verdict, _ in result.verdicts:
            certificate = _certificate_of(verdict)
            if certificate is not None:
                files.extend(_files(job, requirement, certificate))
    return tuple(files)


def write_certificates(folder: Path, files: tuple[tuple[str, str], ...]) -> None:
    """Writes the files below ``folder``, which is made where it does not exist.

    Raises: OSError if that is not possible.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")


def _certificate_of(verdict: Verdict) -> Certificate | None:
    return None if isinstance(verdict, Undecided) else verdict.certificate


def _files(job: str, requirement: Requirement, certificate: Certificate) -> list[tuple[str, str]]:
    base = f"{_as_file_name(job)}/{_as_file_name(requirement.name)}"
    page = _PAGE.format(
        job=job,
        name=requirement.name,
        demand=requirement_words(requirement),
        solvers=" and ".join(certificate.checked_by),
    )
    return [
        (f"{base}/README.md", page),
        (f"{base}/lemmas.txt", "".join(f"{lemma}\n" for lemma in certificate.lemmas)),
        *(
            (f"{base}/{number:02d}-{_as_file_name(condition)}.smt2", text)
            for number, (condition, text) in enumerate(certificate.texts, start=1)
        ),
    ]


def _as_file_name(text: str) -> str:
    """The text with everything that a file's name should not hold as ``-``.

    >>> _as_file_name("no endless chain"), _as_file_name("../floor_1.lit")
    ('no-endless-chain', 'floor_1.lit')
    """
    return re.sub(r"[^\w.-]+", "-", text).strip("-.") or "unnamed"
