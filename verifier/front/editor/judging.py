"""Proofs in a process of their own: it stays from one edit to the next, and can be cut short.

``python -m verifier.front.editor.judging`` is that process. It reads orders from standard input and
writes what it finds to standard output, a line of JSON each. What it holds of the job it takes with
it when it is ended; what is kept in the user's cache stays.
"""

from __future__ import annotations

import contextlib
import json
import os
import queue
import signal
import sys
import threading
from collections.abc import Callable
from fractions import Fraction
from typing import TYPE_CHECKING, Any, TextIO

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.source import Span

if TYPE_CHECKING:
    from verifier.model.job import Requirement
    from verifier.pipeline import Result
    from verifier.proof.verdict import Verdict
    from verifier.workbench import Workbench

Message = dict[str, Any]


# ---------------------------------------------------------------- the process


def main() -> None:
    """Takes orders until standard input closes."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    orders: queue.SimpleQueue[Message | None] = queue.SimpleQueue()
    out = os.fdopen(os.dup(1), "w", encoding="utf-8", buffering=1)
    os.dup2(2, 1)  # what a library prints must not be taken for an answer
    source = os.fdopen(os.dup(0), "r", encoding="utf-8")
    # Workers that are forked close what they have as standard input; a thread that reads from it
    # would let them wait for ever.
    sys.stdin.close()
    sys.stdin = open(os.devnull, encoding="utf-8")  # noqa: SIM115
    threading.Thread(target=_listen, args=(source, orders), daemon=True).start()

    def tell(message: Message) -> None:
        out.write(json.dumps(message) + "\n")

    judge = _Judge(tell)
    order: Message | None = None
    while True:
        try:
            order = None
            order = orders.get()
            if order is None:
                break
            judge.take(order)
        except KeyboardInterrupt:
            with contextlib.suppress(BrokenPipeError):
                tell({"kind": "stopped", "id": None if order is None else order["id"]})
        except BrokenPipeError:
            break
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    judge.close()


def _listen(source: TextIO, orders: queue.SimpleQueue[Message | None]) -> None:
    """Puts orders into the queue; ``stop`` and the end of the input interrupt what is being done."""
    for line in source:
        order = json.loads(line)
        if order["kind"] == "stop":
            _interrupt()
        else:
            orders.put(order)
    _interrupt()
    orders.put(None)


def _interrupt() -> None:
    """Interrupts the main thread, also where it waits for something."""
    if sys.platform == "win32":
        import _thread

        _thread.interrupt_main()
        return
    main_thread = threading.main_thread().ident
    assert main_thread is not None
    signal.pthread_kill(main_thread, signal.SIGINT)


class _Judge:
    """What the process knows: the job as it was last judged."""

    def __init__(self, tell: Callable[[Message], None]) -> None:
        self._tell = tell
        self._bench: Workbench | None = None
        self._files: set[str] = set()
        self._result: Result | None = None

    def close(self) -> None:
        """Ends the workers."""
        if self._bench is not None:
            self._bench.close()

    def take(self, order: Message) -> None:
        """Does what an order says; a fault of the tool itself is told, and the next order is taken."""
        try:
            match order["kind"]:
                case "judge":
                    self._judge(order)
                case "story":
                    self._tell({**order, "kind": "done", "text": self._story(order["name"])})
                case "mend":
                    self._tell({**order, "kind": "done", "mends": self._mends(order)})
                case kind:
                    raise AssertionError(f"judging: no order {kind}")
        except BrokenPipeError:
            raise
        except Exception as fault:
            # Whatever it is: the editor lives on, and says it.
            self._result = None
            words = f"{type(fault).__name__}: {fault}"
            self._tell({"kind": "fault", "id": order["id"], "words": words})

    # ------------------------------------------------------------ verdicts

    def _workbench(self, name: str, limit_s: float) -> Workbench:
        from verifier.front.console import years_from_now
        from verifier.front.keeping import keeping
        from verifier.pipeline import Question
        from verifier.workbench import Workbench

        if self._bench is None or self._bench.name != name:
            self.close()
            workers = max(min((os.cpu_count() or 2) - 1, 8), 1)
            limit = Fraction(limit_s).limit_denominator(1000)
            question = Question(time_limit_s=limit, workers=workers, years=years_from_now())
            self._bench = Workbench(name, question, keeping())
            self._files = set()
        return self._bench

    def _judge(self, order: Message) -> None:
        from verifier.source import SourceFile

        self._result = None
        number = order["id"]
        bench = self._workbench(order["name"], order["limit_s"])
        for gone in sorted(self._files - set(order["files"])):
            bench.remove(gone)
        bench.put(SourceFile(name, text) for name, text in order["files"].items())
        self._files = set(order["files"])
        sources = bench.sources

        def heard(requirement: Requirement, verdict: Verdict, seconds: float) -> None:
            self._tell({"kind": "verdict", "id": number, **verdict_of(requirement, verdict)})

        result = bench.judge(on_verdict=heard)
        self._result = result
        self._tell(
            {
                "kind": "judged",
                "id": number,
                "interrupted": result.interrupted,
                "rejected": result.rejected,
                "findings": [finding_of(each) for each in result.findings],
                "names": [name.name for name in sources.files],
                "problem": bench.problem,
            }
        )

    # ------------------------------------------------------------ what is told of one requirement

    def _story(self, name: str) -> str:
        """Why it fails, or how it is proved, as text."""
        from verifier.explain.explained import explained, fails
        from verifier.front.explain_text import explained_text
        from verifier.front.paint import PLAIN
        from verifier.front.result_text import requirement_text

        result = self._result
        if result is None or result.job is None:
            return ""
        for requirement, verdict, _ in result.verdicts:
            if requirement.name != name:
                continue
            if fails(verdict):
                told = explained(result.job, requirement, verdict)
                return explained_text(told, result.sources, ".", PLAIN, 100) + "\n"
            text = requirement_text(result, requirement, verdict, PLAIN, 100)
            return text + "\n" + _lemmas(verdict)
        return ""

    def _mends(self, order: Message) -> list[Message]:
        """The proposals for one requirement that fails, each with the texts of its files afterwards."""
        from verifier.explain.explained import fails
        from verifier.explain.mending import Limits, mends

        result, name = self._result, order["name"]
        if result is None or result.job is None:
            return []
        verdicts = {requirement.name: verdict for requirement, verdict, _ in result.verdicts}
        if name not in verdicts or not fails(verdicts[name]):
            return []
        limits = Limits(all_s=order["limit_s"], workers=max((os.cpu_count() or 2) - 1, 1))
        found = mends(result.sources, result.job, verdicts, (name,), limits, lambda _: None)
        return [
            {
                "words": "; ".join(each.words for each in mend.applied),
                "files": {
                    new.name: new.text
                    for old, new in zip(result.sources.files, mend.after.files, strict=True)
                    if old.text != new.text
                },
                "mended": list(mend.mended),
                "broken": list(mend.broken),
                "undecided": list(mend.undecided),
            }
            for mend in found
        ]


def _lemmas(verdict: Verdict) -> str:
    """The invariant that a proof rests on, as text."""
    from verifier.proof.verdict import certificate_of

    certificate = certificate_of(verdict)
    if certificate is None or not certificate.lemmas:
        return ""
    checked = " and ".join(certificate.checked_by)
    lines = "\n".join(f"    {lemma}" for lemma in certificate.lemmas)
    return f"\n    What is so at every moment, checked by {checked} (SMT-LIB):\n\n{lines}\n"


def verdict_of(requirement: Requirement, verdict: Verdict) -> Message:
    """A verdict as plain data: the word, the reason, and the lines that acted in the failing run."""
    from verifier.explain.explained import failing_run, fails
    from verifier.front.figures import moment
    from verifier.front.reason import method, reason
    from verifier.proof.verdict import Answered, Proved, Undecided

    run = failing_run(verdict)
    steps = [] if run is None else run.steps
    return {
        "name": requirement.name,
        "state": "failed"
        if fails(verdict)
        else "undecided"
        if isinstance(verdict, Undecided)
        else "proved",
        "vacuous": isinstance(verdict, Proved | Answered) and verdict.vacuous,
        "answer": reason(requirement, verdict) if isinstance(verdict, Answered) else "",
        "reason": reason(requirement, verdict),
        "method": method(verdict),
        "acted": [
            {
                "file": span.file,
                "start": span.start,
                "end": span.end,
                "words": f"{moment(step.at_s, step.just_after)}: {step.what}",
            }
            for step in steps
            for span in step.because
        ],
    }


def finding_of(found: Diagnostic) -> Message:
    """A finding as plain data."""
    return {
        "code": found.code,
        "severity": found.severity.value,
        "message": found.message,
        "hint": found.hint,
        "labels": [
            [label.span.file, label.span.start, label.span.end, label.text]
            for label in found.labels
        ],
    }


def finding_from(message: Message) -> Diagnostic:
    """A finding from plain data."""
    labels = tuple(
        Label(Span(file, start, end), text) for file, start, end, text in message["labels"]
    )
    severity = Severity(message["severity"])
    return Diagnostic(message["code"], severity, message["message"], labels, message["hint"])


if __name__ == "__main__":
    main()
