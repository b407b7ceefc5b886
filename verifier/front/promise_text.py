"""The promises of a job as text: for the terminal, or as a file to sign."""

from __future__ import annotations

from textwrap import wrap

from verifier.front.paint import Paint
from verifier.front.shown import shown
from verifier.front.timing_text import timing_text
from verifier.handover.promise import Promise, Promised, promise_title

KINDS = {
    "keeps": "This keeps it.",
    "breaks": "This breaks it.",
    "reaches": "This shows it.",
    "asks": "This is what is asked.",
}

SIGNED = ("Client", "Installer")

OPENING = (
    "Read each promise, and what keeps and breaks it. Sign only what you want; whatever is not "
    "written here is not promised."
)

UNTRIED = "The runs are made up to show where each promise begins and ends; they are no test of any rules."


def promise_text(
    promise: Promise, made: str, paint: Paint, width: int, cautions: tuple[str, ...]
) -> str:
    """The whole paper; ``made`` is the date."""
    lines = [paint(shown(promise_title(promise)), "strong"), made, ""]
    lines += _wrapped(OPENING, width)
    lines += _wrapped(UNTRIED, width)
    for place, each in enumerate(promise.promised, 1):
        lines += ["", *_promised(each, place, paint, width)]
    lines += ["", paint("What the words mean", "strong")]
    for term, words in promise.words:
        lines += _wrapped(f"{term}: {words}", width, "  ")
    for title, sentences, none in (
        ("What is assumed", promise.assumed, "Nothing."),
        ("Faults that are considered", promise.faults, "None."),
        ("Cautions", cautions, ""),
    ):
        lines += ["", paint(title, "strong")]
        for sentence in sentences or ((none,) if none else ()):
            lines += _wrapped(sentence, width, "  - ")
    lines += ["", paint("Agreed", "strong")]
    for who in SIGNED:
        lines += ["", f"  {who + ':':<12}{'_' * 24}  date {'_' * 12}  signature {'_' * 20}"]
    return "\n".join(lines)


def _promised(each: Promised, place: int, paint: Paint, width: int) -> list[str]:
    requirement = each.requirement
    title = requirement.label or requirement.name
    lines = [paint(f"{place}. {shown(title)}", "strong")]
    lines += _wrapped(each.said.sentence, width, "   ")
    for sentence in each.said.exactly:
        lines += _wrapped(sentence, width, "   - ")
    for run in each.runs:
        style = {"keeps": "good", "breaks": "bad"}.get(run.example.kind, "doubt")
        lines += ["", f"   {paint(KINDS[run.example.kind], style)}"]
        lines += _wrapped(run.diagram.title, width, "   ")
        lines += [f"   {line}" for line in timing_text(run.diagram, paint, width - 3)]
        for number, instant in enumerate(run.diagram.instants):
            if instant.words:
                lines += _wrapped(instant.words, width, f"   {number}  ")
    if each.missing:
        lines += ["", *_wrapped(each.missing, width, "   ")]
    lines += ["", f"   [ ] agreed   [ ] to be changed: {'_' * 30}"]
    return lines


def _wrapped(text: str, width: int, head: str = "") -> list[str]:
    blank = " " * len(head)
    return wrap(shown(text), width, initial_indent=head, subsequent_indent=blank) or [head.rstrip()]
