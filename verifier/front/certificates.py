"""Certificates as files: each condition as SMT-LIB text that any solver can check."""

from __future__ import annotations

import json
import re
from pathlib import Path

from verifier.model.job import Requirement
from verifier.model.words import requirement_words
from verifier.pipeline import Result
from verifier.proof.verdict import Certificate, Undecided, Verdict

KIND = "duskproof certificate, 1"
"""What a certificate's file says it is, with the number of its layout."""

CERTIFICATE = "certificate.json"

_PAGE = """\
# {job}: {name}

What is proved: {demand}

Every .smt2 file of this folder is one condition of the proof; a solver must answer `unsat` to each
(`z3 FILE`, `cvc5 FILE`). Checked so by: {solvers}. `lemmas.txt` holds the invariant, one lemma a line.
Files named `left-out` (if there are any) show why states in which what is assumed contradicts itself
are no part of any run: from them only so much time can pass.

`duskproof check-certificate FOLDER` does the same with both solvers, and with `--rules` it makes the
texts anew from your rules, so that they cannot be those of other rules.
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
    base = f"{as_file_name(job)}/{as_file_name(requirement.name)}"
    page = _PAGE.format(
        job=job,
        name=requirement.name,
        demand=requirement_words(requirement),
        solvers=" and ".join(certificate.checked_by),
    )
    names = [
        f"{number:02d}-{as_file_name(condition)}.smt2"
        for number, (condition, _) in enumerate(certificate.texts, start=1)
    ]
    return [
        (f"{base}/README.md", page),
        (f"{base}/lemmas.txt", "".join(f"{lemma}\n" for lemma in certificate.lemmas)),
        *(
            (f"{base}/{name}", text)
            for name, (_, text) in zip(names, certificate.texts, strict=True)
        ),
        (f"{base}/{CERTIFICATE}", _as_json(job, requirement, certificate, names)),
    ]


def _as_json(job: str, requirement: Requirement, certificate: Certificate, names: list[str]) -> str:
    """What `check-certificate` reads; the layout is told in DEVELOPERS.md."""
    whole = {
        "kind": KIND,
        "job": job,
        "requirement": requirement.name,
        "demand": requirement_words(requirement),
        "checked_by": list(certificate.checked_by),
        "lemmas": list(certificate.lemmas),
        "claim": certificate.claim,
        "alive": certificate.alive,
        "calendar": None if certificate.calendar is None else list(certificate.calendar),
        "left_out": [
            {
                "states": [[list(value) for value in cube] for cube in one.cubes],
                "reached": one.reached,
                "after": one.after,
                "most": one.most,
            }
            for one in certificate.left_out
        ],
        "texts": [
            {"condition": condition, "file": name}
            for name, (condition, _) in zip(names, certificate.texts, strict=True)
        ],
    }
    return json.dumps(whole, indent=2, ensure_ascii=False) + "\n"


def as_file_name(text: str) -> str:
    """The text with everything that a file's name should not hold as ``-``.

    >>> as_file_name("no endless chain"), as_file_name("../floor_1.lit")
    ('no-endless-chain', 'floor_1.lit')
    """
    return re.sub(r"[^\w.-]+", "-", text).strip("-.") or "unnamed"
