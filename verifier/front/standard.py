"""The list of standard requirements, and what of it fits a job: as text and as JSON."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterable
from typing import Any

from verifier import __version__
from verifier.front.figures import counted, listed
from verifier.front.paint import Paint
from verifier.front.shown import shown
from verifier.language import parse, tree
from verifier.language.formatter import fault_text, scoped_text
from verifier.language.library import library
from verifier.model.claimed import Fit, fits
from verifier.model.job import Job
from verifier.model.standards import READ, kinds_words
from verifier.source import Sources

CAUTIONS = (
    "The local code decides. Each entry is modelled on a text that was not read whole, and may be "
    "older than the one in force: compare before you rely on it.",
    "In many places the design and sign-off of an installation is work for a licensed person; a "
    "proof about its rules does not take that place.",
    "Escape lighting with its own supply is never left to these rules: it is planned, tested and "
    "logged by its own standards.",
    "Driven doors need their own listed operator and safety devices; light and sound alone make no "
    "door safe.",
)
"""What stands under every list."""

_INDENT = "    "
_MOST_NAMES = 8


def standards_of(sources: Sources | None) -> tuple[tree.Standard, ...]:
    """Those of the library, then those that a job writes itself."""
    own = [
        declaration
        for file in (sources.files if sources else ())
        for declaration in parse(file)[0].declarations
        if isinstance(declaration, tree.Standard)
    ]
    return (*library(), *own)


# ---------------------------------------------------------------- text


def standards_text(standards: Iterable[tree.Standard], paint: Paint, width: int) -> str:
    """The list, each entry with all that it says."""
    blocks = [_entry(standard, paint, width) for standard in standards]
    return "\n\n".join([*blocks, _cautions(width)])


def _entry(standard: tree.Standard, paint: Paint, width: int) -> str:
    lines = [_title(standard, paint)]
    lines += _lines("It asks", scoped_text(standard.scoped), width)
    for source in standard.sources:
        lines += _lines("Modelled on", source_text(source), width)
    for words in standard.remarks("applies to"):
        lines += _lines("Applies to", words, width)
    for takes in standard.parameters:
        lines += _lines("Takes", parameter_text(takes), width)
    for fault in standard.needs:
        lines += _lines("About the fault", f"consider {fault_text(fault)}", width)
    for words in standard.remarks("caution"):
        lines += _lines("Mind", words, width)
    lines += _lines("Write", line_for(standard), width)
    return "\n".join(lines)


def _title(standard: tree.Standard, paint: Paint) -> str:
    label = f'  "{shown(standard.label.text)}"' if standard.label else ""
    return f"{paint(standard.name.text, 'strong')}{label}"


def _lines(word: str, text: str, width: int) -> list[str]:
    return textwrap.wrap(
        f"{word}: {shown(text)}",
        max(width, 40),
        initial_indent=_INDENT,
        subsequent_indent=_INDENT + "  ",
        break_long_words=False,
        break_on_hyphens=False,
    )


def source_text(source: tree.ModelledOn) -> str:
    """A source: its clause, its edition, and how it was read."""
    edition = f", edition {source.edition.text}" if source.edition else ""
    if source.read == "practice":
        return f"{source.clause.text}{edition} (no source)"
    return f"{source.clause.text}{edition} ({source.read}: {READ[source.read]})"


def parameter_text(takes: tree.Takes) -> str:
    """A parameter: what it takes, what it is if left out, and what it means."""
    text = f"{takes.name.text}: {kinds_words(takes)}"
    if takes.usual is not None:
        figure = takes.usual.figure.text
        limit = "" if takes.usual.words == "usually" else f"{takes.usual.words} {figure}, "
        text += f"; {limit}{figure} if left out"
    return text + (f" – {takes.label.text}" if takes.label else "")


def line_for(standard: tree.Standard, fit: Fit | None = None) -> str:
    """The line that takes it in, with names of a job that fit where there is one."""
    names = {} if fit is None else {takes.name.text: found for takes, found in fit.fitting}
    given = []
    for takes in standard.parameters:
        if takes.usual is not None:
            continue
        found = names.get(takes.name.text, ())
        if fit is not None and fit.fitting and takes is fit.fitting[0][0] and fit.open:
            found = fit.open
        if found:
            word = " and ".join(found[:_MOST_NAMES]) if takes.several else found[0]
        else:
            word = takes.kinds[0].text.upper()
        given.append(f"{takes.name.text} {word}")
    head = f"require NAME as {standard.name.text}"
    return f"{head} with {', '.join(given)}" if given else head


def _cautions(width: int) -> str:
    lines = [
        line
        for caution in CAUTIONS
        for line in textwrap.wrap(
            caution, max(width, 40), initial_indent="! ", subsequent_indent="  "
        )
    ]
    return "\n".join(lines)


def fits_text(job: Job, standards: Iterable[tree.Standard], paint: Paint, width: int) -> str:
    """What of the list fits a job: claimed, not claimed, and what the job has nothing for."""
    found = fits(job, standards)
    claimed = [fit for fit in found if fit.claims]
    unclaimed = [fit for fit in found if fit.applies and not fit.claims]
    others = [fit for fit in found if not fit.applies and not fit.claims]
    blocks = [
        f"{paint(shown(job.name), 'strong')}: {counted(len(claimed), 'standard requirement')} claimed, "
        f"{len(unclaimed)} more would fit its points"
    ]
    if claimed:
        blocks.append("\n".join(["Claimed:", *_each(claimed, paint, width, _claimed_lines)]))
    if unclaimed:
        blocks.append("\n".join(["Not claimed:", *_each(unclaimed, paint, width, _open_lines)]))
    if others:
        blocks.append("\n".join(["Nothing in the job for:", *_other_lines(others, width)]))
    return "\n\n".join([*blocks, _cautions(width)])


def _each(found: list[Fit], paint: Paint, width: int, lines: Any) -> list[str]:
    told: list[str] = []
    for fit in found:
        told.append("  " + _title(fit.standard, paint))
        told += lines(fit, width)
    return told


def _claimed_lines(fit: Fit, width: int) -> list[str]:
    lines = _lines("Requirements", listed(fit.claims), width)
    if fit.claimed:
        lines += _lines("Said of", listed(fit.claimed), width)
    if fit.open:
        lines += _lines("Not said of", listed(fit.open), width)
    return lines


def _open_lines(fit: Fit, width: int) -> list[str]:
    lines: list[str] = []
    for source in fit.standard.sources:
        lines += _lines("Modelled on", source_text(source), width)
    return lines + _lines("Write", line_for(fit.standard, fit), width)


def _other_lines(found: list[Fit], width: int) -> list[str]:
    return [
        line
        for fit in found
        for line in textwrap.wrap(
            f"{fit.standard.name.text} (it takes "
            f"{listed(tuple(kinds_words(takes) for takes in fit.missing))})",
            max(width, 40),
            initial_indent="  ",
            subsequent_indent=_INDENT,
        )
    ]


# ---------------------------------------------------------------- JSON


def standards_json(standards: tuple[tree.Standard, ...], job: Job | None) -> str:
    """The list as one object; with a job each entry also says how it fits."""
    found = {} if job is None else {fit.standard.name.text: fit for fit in fits(job, standards)}
    whole: dict[str, Any] = {"tool": "duskproof", "version": __version__}
    if job is not None:
        whole["job"] = job.name
    whole["cautions"] = list(CAUTIONS)
    whole["standards"] = [
        _object(standard) | _fit_object(found.get(standard.name.text)) for standard in standards
    ]
    return json.dumps(whole, indent=2)


def _object(standard: tree.Standard) -> dict[str, Any]:
    return {
        "name": standard.name.text,
        "title": standard.label.text if standard.label else "",
        "form": scoped_text(standard.scoped),
        "modelled_on": [
            {
                "clause": source.clause.text,
                "edition": source.edition.text if source.edition else None,
                "read": source.read,
            }
            for source in standard.sources
        ],
        "applies_to": list(standard.remarks("applies to")),
        "cautions": list(standard.remarks("caution")),
        "parameters": [
            {
                "name": takes.name.text,
                "kinds": [kind.text for kind in takes.kinds],
                "several": takes.several,
                "usual": takes.usual.figure.text if takes.usual else None,
                "bound": takes.usual.words
                if takes.usual and takes.usual.words != "usually"
                else None,
                "means": takes.label.text if takes.label else "",
            }
            for takes in standard.parameters
        ],
        "needs": [fault_text(fault) for fault in standard.needs],
        "line": line_for(standard),
    }


def _fit_object(fit: Fit | None) -> dict[str, Any]:
    if fit is None:
        return {}
    return {
        "applies": fit.applies,
        "fitting": {takes.name.text: list(names) for takes, names in fit.fitting},
        "claims": list(fit.claims),
        "claimed_of": list(fit.claimed),
        "not_claimed_of": list(fit.open),
        "line": line_for(fit.standard, fit),
    }
