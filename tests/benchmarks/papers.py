"""How long the papers take, beside the proof: ``python -m tests.benchmarks.papers [ROUNDS]``.

The boathouse's first draft (21 requirements, 13 fail) and the same twice over (42); medians of some
rounds in one process, the workers' proofs among them. Nothing else should run meanwhile.
"""

from __future__ import annotations

import re
import sys
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path
from statistics import median

from verifier import pipeline
from verifier.explain.explained import Explained, explained, fails
from verifier.front.folder import read_folder
from verifier.front.page import page
from verifier.front.report_html import Report, report_body, report_title
from verifier.handover.sheet import sheet_of
from verifier.source import SourceFile, Sources

DRAFT = Path(__file__).parents[2] / "specs/boathouse-first-draft"
_DECLARED = re.compile(
    r"^\s*(?:contact|limit|switch|detector|button|lamp|dimmer|load|flag|setting|door|room|rule|"
    r"require)\s+(\w+)",
    re.M,
)


def twice(sources: Sources) -> Sources:
    """The job beside a copy of itself under other names."""
    names = {n for file in sources.files for n in _DECLARED.findall(file.text)}
    name = re.compile(r'(?<!")\b(' + "|".join(sorted(names, key=len, reverse=True)) + r")\b")
    files = []
    for k in "ab":
        for file in sources.files:
            text = name.sub(rf"\1_{k}", file.text)
            text = text if k == "a" else text.replace("consider power cuts\n", "")
            files.append(SourceFile(f"{k}_{file.name}", text))
    return Sources(tuple(sorted(files, key=lambda f: f.name)))


def timed(rounds: int, act: Callable[[], object]) -> float:
    """The median of some rounds, in seconds."""
    found = []
    for _ in range(rounds):
        began = time.perf_counter()
        act()
        found.append(time.perf_counter() - began)
    return median(found)


def measured(sources: Sources, rounds: int) -> None:
    """Prints the rows of one job."""
    question = pipeline.Question(workers=2, years=(2026, 2055))

    def proved() -> pipeline.Result:
        return pipeline.prove(sources, "job", question, lambda *_: None)

    result = proved()
    job = result.job
    assert job is not None
    failing = [(r, v) for r, v, _ in result.verdicts if fails(v)]

    def explaining() -> tuple[Explained, ...]:
        return tuple(explained(job, r, v) for r, v in failing)

    report = Report(result, job, explaining(), "job", date(2026, 1, 1))
    print(f"{len(result.verdicts)} requirements, {len(failing)} fail")
    print(f"  proved          {timed(rounds, proved):6.2f} s")
    print(f"  explained       {timed(rounds, explaining):6.2f} s")
    writing = timed(rounds, lambda: page(report_title(report), report_body(report)))
    print(f"  report written  {writing:6.2f} s")


def main(rounds: int) -> None:
    """Prints the table."""
    draft = read_folder(str(DRAFT)).sources
    measured(draft, rounds)
    measured(twice(draft), rounds)
    sound = pipeline.checked(read_folder(str(DRAFT.parent / "boathouse")).sources, "job").job
    assert sound is not None
    print(f"test sheet of the boathouse {timed(1, lambda: sheet_of(sound)):6.2f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
