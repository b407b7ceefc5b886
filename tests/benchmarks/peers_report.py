"""The page of the peers: who was asked, the table, where a peer is quicker."""

from __future__ import annotations

import os
from dataclasses import dataclass

from tests.benchmarks.peers import BRIEF, MOST_MB, OVER, SLOW_S, TIMES, Answer, Peer, Question
from tests.benchmarks.report import machine, seconds

OURS = "Duskproof"

HEAD = """# Beside other checkers

Written by `python -m tests.benchmarks.peers` (about half an hour), not by hand. No test measures time.
The same requirement of the same job, put to general-purpose checkers. All figures are of one run.

- **Machine**: {machine}; load average {load} at the end (other work lengthens all times).
- **Time**: wall clock; median of {times}, what takes more than {slow:g} s is run once. The limit is
  {limit:g} s and {memory} MB: “over” is beyond one of them. “Not tried”: over at a smaller size.
- **Duskproof** counts from the job's text to the verdict: reading, slicing, the search, the certificate
  made and checked by z3 and cvc5, and whether the requirement came into play. So does Spacer, without
  the last two. The others count from the model as they read it, to their verdict: making the model is
  not in it, nor is what starts Python and loads solvers (what starts ABC is, some 20 ms).
- **In brackets** the ratio to Duskproof's time. Below 1, in bold, the peer is the quicker one.
- **Verdicts** are compared: one that contradicts another ends the run, and this page is not written.
- Every peer gets the slice of the job that the requirement depends on.
"""

MODELS = {
    "Spacer": "z3's Fixedpoint over the reals on the system of single steps "
    "([`unfused.py`](unfused.py)): time is dense, no certificate is made.",
    "Rumur": "explicit states in C. The job in Murphi, written from the contract and sharing nothing "
    "with the prover ([`tests/outside`](../outside/murphi.py)), in ticks of half the greatest common "
    "divisor of the durations. After the + what the C compiler takes, which is not in the ratio.",
    "ABC": "`scorr; dc2; pdr` on gates and latches: the prover's own relation in the same ticks "
    "([`tick_model.py`](tick_model.py)), an instant in one step.",
    "TChecker": "zones with aLU subsumption, breadth first, on a network of timed automata from the "
    "same relation ([`zone_model.py`](zone_model.py)): time is dense. The time is that of its search "
    "as it tells it.",
}
"""What each peer is given."""

WHY = {
    "Spacer": "A system of a handful of steps: Spacer has its answer before the prover has written "
    "and twice checked a certificate.",
    "Rumur": "The states are few because the ticks are: short waits, or waits that are all multiples "
    "of one. Its code is compiled, and no certificate is made. It ends where waits differ or grow: "
    "each timer multiplies the states by its ticks.",
    "ABC": "Where all waits are one tick long, or a few, time is a bit or two, and PDR is at home with "
    "bits. It makes no certificate that somebody else checks. A wait of many ticks is a chain of that many "
    "steps for it.",
    "TChecker": "A few timers have few zones, and its search in C++ does them in less than a "
    "millisecond, where the prover has some 25 ms of reading, certificate and two solvers. It makes no "
    "certificate. Zones tell the orders of the timers apart: with each timer there are about ten times as "
    "many.",
}
"""Why a peer can be the quicker one."""


@dataclass(frozen=True, slots=True)
class Page:
    """All that the page tells. ``there`` are the peers that were asked, ``answers`` in their order."""

    peers: tuple[Peer, ...]
    versions: dict[str, str | None]
    there: tuple[Peer, ...]
    questions: tuple[Question, ...]
    answers: tuple[tuple[Answer, ...], ...]
    limit_s: float
    remarks: tuple[str, ...] = ()


def page_of(page: Page) -> str:
    """The whole page."""
    lines = [
        HEAD.format(
            machine=machine(),
            load=", ".join(f"{value:.1f}" for value in os.getloadavg()),
            times=TIMES,
            slow=SLOW_S,
            limit=page.limit_s,
            memory=MOST_MB,
        ),
        "## Who was asked\n",
        *_who(page),
        "",
        "## Where a peer is quicker\n",
        *_quicker(page),
        "",
        "## The table\n",
        "A twin breaks its promise by one second ([`families.py`](families.py); "
        f"{BRIEF.name}(n): {BRIEF.what}).\n",
    ]
    for group in dict.fromkeys(question.group for question in page.questions):
        lines += [f"### {group}\n", *table(page, group), ""]
    return "\n".join(lines).rstrip("\n") + "\n"


def _who(page: Page) -> list[str]:
    lines = ["| checker | version | what it gets |", "| --- | --- | --- |"]
    for peer in page.peers:
        version = page.versions[peer.name]
        shown = version if version is not None else f"**missing**: `{peer.install}`"
        lines.append(f"| {peer.name} | {shown} | {MODELS.get(peer.name, 'the job')} |")
    return [*lines, *(f"\n{remark}" for remark in page.remarks)]


def _quicker(page: Page) -> list[str]:
    lines = []
    for column, peer in enumerate(page.there):
        if peer.name == OURS:
            continue
        named: dict[str, list[str]] = {}
        asked = 0
        for question, answers in zip(page.questions, page.answers, strict=True):
            asked += answers[column].is_verdict
            if is_quicker(answers, column):
                named.setdefault(question.group, []).append(question.size)
        count = sum(len(sizes) for sizes in named.values())
        where = "; ".join(f"{group} {', '.join(sizes)}" for group, sizes in named.items())
        told = f"- **{peer.name}**: answers {asked} of {len(page.questions)}, quicker at {count}"
        lines.append(f"{told} ({where}). {WHY[peer.name]}" if count else f"{told}.")
    return lines


def is_quicker(answers: tuple[Answer, ...], column: int) -> bool:
    """Whether the peer of a column answered, and before the prover, which stands first."""
    ours, theirs = answers[0], answers[column]
    return theirs.is_verdict and not (ours.is_verdict and ours.seconds <= theirs.seconds)


def table(page: Page, group: str) -> list[str]:
    """The lines of one group's table."""
    names = [peer.name for peer in page.there]
    heading = "requirement" if group == "boathouse" else "n"
    lines = [
        f"| {heading} | verdict | {' | '.join(names)} |",
        "| --- | --- |" + " --- |" * len(names),
    ]
    for question, answers in zip(page.questions, page.answers, strict=True):
        if question.group == group:
            verdict = next((a.verdict for a in answers if a.is_verdict), "none")
            cells = [_cell(answers, column, page.limit_s) for column in range(len(names))]
            lines.append(f"| {question.size} | {verdict} | {' | '.join(cells)} |")
    return lines


def _cell(answers: tuple[Answer, ...], column: int, limit_s: float) -> str:
    answer = answers[column]
    if answer.verdict == OVER:
        return f"over {limit_s:g} s"
    if not answer.is_verdict:
        return answer.verdict
    shown = brief_seconds(answer.seconds)
    if answer.build_s:
        shown += f" + {brief_seconds(answer.build_s)}"
    if not column or not answers[0].is_verdict:
        return shown
    ratio = answer.seconds / answers[0].seconds
    told = f"{ratio:.2g}" if ratio < 10 else f"{ratio:.0f}"
    return f"**{shown} ({told})**" if ratio < 1 else f"{shown} ({told})"


def brief_seconds(value: float) -> str:
    """A time for people, down to a tenth of a millisecond.

    >>> [brief_seconds(v) for v in (0.00003, 0.0004, 0.42)]
    ['under 0.1 ms', '0.4 ms', '0.42 s']
    """
    if value < 0.0001:
        return "under 0.1 ms"
    return f"{value * 1000:.1f} ms" if value < 0.01 else seconds(value)
