"""What an edit of a job has changed in its verdicts, as text."""

from __future__ import annotations

from collections import Counter
from textwrap import wrap

from verifier.diagnostics import Diagnostic, Severity
from verifier.explain.figures import counted, listed
from verifier.front.diagnostic_text import diagnostic_text, in_order
from verifier.front.paint import Paint
from verifier.front.reason import reason
from verifier.front.result_text import counts_words, headline, requirement_text
from verifier.front.shown import shown
from verifier.model.job import Requirement
from verifier.pipeline import Result
from verifier.proof.verdict import Refuted, Undecided, Verdict

MOST_NAMES = 6


def first_text(result: Result, paint: Paint, width: int) -> str:
    """The result of the first look: what fails in full, the rest as a count."""
    return _text(result, {}, Counter(), paint, width, first=True)


def edit_text(before: Result, result: Result, paint: Paint, width: int) -> str:
    """What is another than at the last look at which the job could be judged."""
    verdicts = {requirement.name: verdict for requirement, verdict, _ in before.verdicts}
    told = Counter(_key(found) for found in before.findings)
    return _text(result, verdicts, told, paint, width, first=False)


def changed_words(before: Result | None, result: Result) -> str:
    """Which files are new, gone or changed: ``rules.dusk changed``."""
    old = {} if before is None else {file.name: file.text for file in before.sources.files}
    new = {file.name: file.text for file in result.sources.files}
    parts = [
        (tuple(name for name in new if name in old and old[name] != new[name]), "changed"),
        (tuple(name for name in new if name not in old), "new"),
        (tuple(name for name in old if name not in new), "gone"),
    ]
    said = [f"{_names(names)} {word}" for names, word in parts if names]
    return "; ".join(said) or "saved, and the same as before"


def _names(names: tuple[str, ...]) -> str:
    if len(names) > MOST_NAMES:
        return f"{len(names)} files"
    return shown(listed(names, "and"))


# ---------------------------------------------------------------- what came out


def _text(
    result: Result,
    old: dict[str, Verdict],
    told: Counter[tuple[str, str]],
    paint: Paint,
    width: int,
    *,
    first: bool,
) -> str:
    if result.rejected:
        return _wrong(result, paint, width)
    blocks: list[str] = []
    same = 0
    for requirement, verdict, _ in result.verdicts:
        was = old.get(requirement.name)
        if was is not None and _alike(requirement, was, verdict):
            same += 1
        elif isinstance(verdict, Refuted | Undecided):
            after = "" if was is None or first else f"  (was {_word(was)})"
            head, *rest = requirement_text(result, requirement, verdict, paint, width).split("\n")
            blocks.append("\n".join([f"{head}{after}", *rest]))
        elif not first:
            blocks.append(_holds(requirement, verdict, was, paint, width))
    gone = tuple(name for name in old if name not in {r.name for r, _, _ in result.verdicts})
    if gone:
        blocks.append("\n".join(wrap(f"No longer asked: {_names(gone)}.", width)))
    blocks.extend(
        diagnostic_text(found, result.sources, paint, width)
        for found in _new(result, told)
        if found.severity is Severity.WARNING or not first
    )
    asked = result.effort.distinct - result.effort.reused if result.effort is not None else 0
    lines = wrap(counts_words(result), width)
    if not first:
        lines += wrap(
            f"{same} as before, {counted(asked, 'question')} asked anew."
            if same < len(result.verdicts)
            else f"All as before, {counted(asked, 'question')} asked anew.",
            width,
        )
    blocks.append("\n".join(lines))
    return "\n\n".join(blocks)


def _holds(
    requirement: Requirement, verdict: Verdict, was: Verdict | None, paint: Paint, width: int
) -> str:
    """A requirement that holds, or an answer, on a line or two."""
    mark, word, style = headline(verdict)
    head = word if paint.plain_marks else f"{mark} {word}"
    before = "new" if was is None else f"was {_word(was)}"
    said = f"{paint(head, style)}  {paint(shown(requirement.name), 'strong')}  ({before})"
    words = wrap(shown(reason(requirement, verdict)), width - 4)
    return "\n".join([said, *(f"    {line}" for line in words)])


def _word(verdict: Verdict) -> str:
    return headline(verdict)[1].lower()


def _alike(requirement: Requirement, was: Verdict, now: Verdict) -> bool:
    """Whether the same would be said of both."""
    return headline(was) == headline(now) and reason(requirement, was) == reason(requirement, now)


def _wrong(result: Result, paint: Paint, width: int) -> str:
    errors = [f for f in in_order(result.sources, result.findings) if f.severity is Severity.ERROR]
    blocks = [diagnostic_text(found, result.sources, paint, width) for found in errors]
    those = "it is" if len(errors) == 1 else "they are"
    said = f"{counted(len(errors), 'error')}: nothing is judged until {those} mended."
    return "\n\n".join([*blocks, *wrap(said, width)])


def _new(result: Result, told: Counter[tuple[str, str]]) -> list[Diagnostic]:
    """The findings that were not told before."""
    left = Counter(told)
    found: list[Diagnostic] = []
    for each in in_order(result.sources, result.findings):
        if left[_key(each)]:
            left[_key(each)] -= 1
        else:
            found.append(each)
    return found


def _key(found: Diagnostic) -> tuple[str, str]:
    """What a finding says, wherever it has been moved to."""
    return found.code, found.message
