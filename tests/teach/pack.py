"""Packs what challenges are graded by: ``python -m tests.teach.pack`` after an edit of one.

The plain texts lie in ``tests/teach/challenges``, a folder for each lesson; what is packed lies in
``specs/lessons``, which learners have. A near-miss is for the tests alone.
"""

from __future__ import annotations

from pathlib import Path

from tests.check import ROOT
from verifier.teach.hidden import hidden_of, packed
from verifier.teach.lesson import Hidden

LESSONS = ROOT / "specs" / "lessons"
CHALLENGES = Path(__file__).parent / "challenges"


def plain(folder: Path) -> Hidden:
    """What the plain texts of a challenge say."""
    return hidden_of({p.name: p.read_text(encoding="utf-8") for p in sorted(folder.iterdir())})


if __name__ == "__main__":
    for each in sorted(CHALLENGES.iterdir()):
        text = packed(plain(each))
        (LESSONS / each.name / "challenge.packed").write_text(text, encoding="utf-8")
