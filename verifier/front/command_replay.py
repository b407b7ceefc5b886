"""`duskproof replay`: failing cases that were kept, played on the job as it is now."""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING

import click

from verifier.front.console import FOLDER, checked, say, tell, terminal_width
from verifier.handover.regression import Comes, KeepsNow, KeptCase, NoLongerPossible, StillFails
from verifier.model.job import Job
from verifier.pipeline import Result

if TYPE_CHECKING:
    from verifier.diagnostics import Diagnostic
    from verifier.front.paint import Paint, Style


@click.command("replay")
@FOLDER
@click.argument("cases", nargs=-1, required=True, metavar="CASE…")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text")
def command(folder: str, cases: tuple[str, ...], form: str) -> int:
    """Play failing cases that `prove --save-case` kept on the job as it is now.

    A CASE is such a file, or a folder of them. What happens outside is the same as it was, at the
    same moments; the rules do what they do now. No solver is asked, so it takes no time; whether
    the requirement holds in all other cases, too, `prove` says.
    Exit codes: 0 all are kept now, 1 one still fails, 2 one is no longer possible, or a file or
    the job is wrong.

    \b
    Example:
      duskproof prove specs/stair-first-draft --save-case cases
      duskproof replay specs/stair cases
    """
    from verifier.front.case_files import NotACase, case_paths, read_case
    from verifier.front.diagnostic_text import diagnostic_text
    from verifier.front.paint import paint_for
    from verifier.source import Sources

    result = checked(folder)
    if result.job is None or result.rejected:
        return tell((result,), form, False)
    played: list[_Told] = []
    problems: list[Diagnostic] = []
    for given in cases:
        try:
            paths = case_paths(given)
        except NotACase as wrong:
            problems.append(wrong.args[0])
            continue
        for path in paths:
            try:
                kept = read_case(path)
            except NotACase as wrong:
                problems.append(wrong.args[0])
                continue
            played.append(_play(result, result.job, str(path), kept))
    codes = {_CODES[type(each.comes)] for each in played} | ({2} if problems else set())
    code = next((code for code in (2, 1, 0) if code in codes), 0)
    if form == "json":
        say(_as_json(result, played, problems, code))
        return code
    paint, width = paint_for(sys.stdout), terminal_width()
    for each in played:
        say(each.text(paint, width))
    for problem in problems:
        say(diagnostic_text(problem, Sources(()), paint, width))
    say(_total(played))
    return code


_CODES: dict[type[Comes], int] = {StillFails: 1, KeepsNow: 0, NoLongerPossible: 2}
_STYLES: dict[type[Comes], Style] = {
    StillFails: "bad",
    KeepsNow: "good",
    NoLongerPossible: "doubt",
}


@dataclass(frozen=True, slots=True)
class _Told:
    """A case that was played; ``notes`` are what has changed since it was kept."""

    place: str
    kept: KeptCase
    comes: Comes
    notes: tuple[str, ...]

    @property
    def word(self) -> str:
        """What comes of it, in a word or two."""
        match self.comes:
            case StillFails():
                return "still fails"
            case KeepsNow():
                return "keeps it now"
            case NoLongerPossible():
                return "no longer possible"

    @property
    def why(self) -> str:
        """When it fails, how far it was played, or why it cannot happen."""
        from verifier.front.figures import moment

        match self.comes:
            case StillFails(at_s, just_after, in_another_order, later):
                when = moment(at_s, just_after)
                then = moment(self.kept.fails_s, self.kept.fails_just_after)
                same = (at_s, just_after) == (self.kept.fails_s, self.kept.fails_just_after)
                words = f"at {when}, as it did" if same else f"at {when}; it did at {then}"
                if in_another_order:
                    words += ", in another order of what happens at one moment"
                if later:
                    words += ", when nothing more happens outside"
                return words.replace("at just after", "just after")
            case KeepsNow(until_s):
                return f"played up to {moment(until_s, False)}"
            case NoLongerPossible(why):
                return why

    def text(self, paint: Paint, width: int) -> str:
        """A line, and what has to be said with it."""
        import textwrap

        from verifier.front.shown import shown

        style = _STYLES[type(self.comes)]
        lines = [f"{paint(self.word, style)}  {shown(self.kept.requirement)}  {shown(self.place)}"]
        for line in (self.why, *self.notes):
            lines.extend(
                textwrap.wrap(shown(line), width, initial_indent="  ", subsequent_indent="  ")
            )
        return "\n".join(lines)


def _play(result: Result, job: Job, place: str, kept: KeptCase) -> _Told:
    from verifier import pipeline
    from verifier.handover.fingerprint import fingerprint_of
    from verifier.handover.regression import replayed, requirement_of
    from verifier.model.words import fault_words, requirement_words

    there = {fault_words(fault) for fault in job.faults}
    missing = tuple(fault for fault in kept.considered if fault not in there)
    sources = result.sources
    if missing:
        more = pipeline.checked(pipeline.with_considered(sources, missing), result.name)
        if more.job is None or more.rejected:
            why = next(f.message for f in more.findings if f.severity.value == "error")
            return _Told(place, kept, NoLongerPossible(f"a fault cannot be considered: {why}"), ())
        job, sources = more.job, more.sources
    notes = []
    if fingerprint_of(result.sources).whole == kept.rules_sha256:
        notes.append("The rules are those with which it was kept.")
    if result.name != kept.job:
        notes.append(f"It was kept of another job, {kept.job}.")
    requirement = requirement_of(job, kept)
    if isinstance(requirement, NoLongerPossible):
        return _Told(place, kept, requirement, tuple(notes))
    if requirement_words(requirement) != kept.form:
        notes.append(f"The requirement was another one then: {kept.form}")
    return _Told(place, kept, replayed(job, sources, requirement, kept), tuple(notes))


def _total(played: list[_Told]) -> str:
    from verifier.front.figures import counted

    words = [each.word for each in played]
    parts = [
        f"{words.count(word)} {said}"
        for word, said in (
            ("still fails", "still failing"),
            ("keeps it now", "kept now"),
            ("no longer possible", "no longer possible"),
        )
        if words.count(word)
    ]
    return f"{counted(len(played), 'case')}: {', '.join(parts) or 'nothing was played'}."


def _as_json(result: Result, played: list[_Told], problems: list[Diagnostic], code: int) -> str:
    from verifier import __version__
    from verifier.front.result_json import finding_object
    from verifier.model.words import number

    cases = []
    for each in played:
        fails = each.comes if isinstance(each.comes, StillFails) else None
        cases.append(
            {
                "file": each.place,
                "requirement": each.kept.requirement,
                "comes": each.word,
                "why": each.why,
                "fails_at_s": None if fails is None else number(fails.at_s),
                "fails_just_after": fails is not None and fails.just_after,
                "in_another_order": fails is not None and fails.in_another_order,
                "later": fails is not None and fails.later,
                "notes": list(each.notes),
            }
        )
    whole = {
        "tool": "duskproof",
        "version": __version__,
        "job": result.name,
        "exit": code,
        "cases": cases,
        "findings": [finding_object(problem, result.sources) for problem in problems],
    }
    return json.dumps(whole, indent=2, ensure_ascii=False)
