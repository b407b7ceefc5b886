"""What stands at each requirement: its state, what can be asked of it, and the changes that mend it."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from typing import Any

from lsprotocol import types

from verifier.front.editor.hover import state_words
from verifier.front.editor.jobs import MARKS, Known, OpenJob, Reading
from verifier.front.editor.places import SOURCE, position_of, range_of
from verifier.language import tree
from verifier.source import SourceFile, Span


def _requirements(file: tree.File) -> list[tuple[str, tree.Requirement | tree.Claim]]:
    """The requirements of a file, with the typical that they stand in (empty: none)."""
    found: list[tuple[str, tree.Requirement | tree.Claim]] = []
    for each in file.declarations:
        if isinstance(each, tree.Requirement | tree.Claim):
            found.append(("", each))
        elif isinstance(each, tree.Typical):
            inner = (i for i in each.declarations if isinstance(i, tree.Requirement | tree.Claim))
            found.extend((each.name.text, one) for one in inner)
    return found


def _known_at(
    node: tree.Requirement | tree.Claim, reading: Reading, states: tuple[Known, ...]
) -> list[Known]:
    """The states of what a requirement of the text is in the job: several, if a typical is applied."""
    if reading.job is None:
        return [each for each in states if each.name == node.name.text]
    names = {
        requirement.name
        for requirement in reading.job.requirements
        if requirement.name.rpartition(".")[2] == node.name.text
        and requirement.span.file == node.span.file
        and node.span.start <= requirement.span.start <= node.span.end
    }
    return [each for each in states if each.name in names]


_WEIGHT = ("failed", "undecided", "stale", "running", "proved")


def _title(states: list[Known]) -> str:
    """The state of one requirement in a line; of several made from one the weightiest first."""
    if not states:
        return f"{MARKS['stale']} not judged"
    if len(states) == 1:
        words = state_words(states[0])
        return f"{MARKS[states[0].state]} {words if len(words) <= 110 else words[:107] + ' …'}"
    counts = [(state, sum(each.state == state for each in states)) for state in _WEIGHT]
    return ", ".join(f"{MARKS[state]} {count} {state}" for state, count in counts if count)


def lenses(job: OpenJob, reading: Reading, file: SourceFile, uri: str) -> list[types.CodeLens]:
    """The lines above the requirements of a file."""
    states = job.states()
    trees = {each.span.file: each for each in reading.trees}
    found: list[types.CodeLens] = []
    for _, node in _requirements(trees[file.name]):
        at = range_of(file, node.name.span)
        known = _known_at(node, reading, states)
        found.append(_lens(at, _title(known), "duskproof.prove", [uri]))
        for each in sorted(known, key=lambda one: _WEIGHT.index(one.state))[:1]:
            if each.state == "failed":
                found.append(_lens(at, "its story", "duskproof.story", [uri, each.name]))
                found.append(_lens(at, "look for a change", "duskproof.mend", [uri, each.name]))
            elif each.state in ("proved", "undecided"):
                title = "its proof" if each.state == "proved" else "what was tried"
                found.append(_lens(at, title, "duskproof.story", [uri, each.name]))
    return found


def _lens(at: types.Range, title: str, command: str, arguments: list[Any]) -> types.CodeLens:
    return types.CodeLens(at, types.Command(title, command, arguments=arguments))


def failing(
    job: OpenJob, reading: Reading, states: tuple[Known, ...], uris: dict[str, str]
) -> list[tuple[types.Diagnostic, str]]:
    """What is underlined because it fails or could not be decided, and the file that it is in.

    The lines that acted are linked while the text is that which was judged, to the letter.
    """
    places = job.is_judged_as_it_is
    found: list[tuple[types.Diagnostic, str]] = []
    for tree_file in reading.trees:
        file = reading.sources.by_name[tree_file.span.file]
        for _, node in _requirements(tree_file):
            for each in _known_at(node, reading, states):
                diagnostic = _diagnostic(each, node, file, reading, uris, places)
                if diagnostic is not None:
                    found.append((diagnostic, file.name))
    return found


def _diagnostic(
    known: Known,
    node: tree.Requirement | tree.Claim,
    file: SourceFile,
    reading: Reading,
    uris: dict[str, str],
    places: bool,
) -> types.Diagnostic | None:
    told = known.told
    if told is None or not (known.state in ("failed", "undecided") or known.vacuous):
        return None
    severity = types.DiagnosticSeverity.Warning
    code = "vacuous" if known.vacuous else known.state
    if known.state == "failed":
        severity = types.DiagnosticSeverity.Error
    elif known.state not in ("undecided", "proved"):
        return None
    related = []
    for acted in told["acted"] if places else ():
        other = reading.sources.by_name.get(acted["file"])
        if other is not None:
            span = Span(acted["file"], acted["start"], acted["end"])
            place = types.Location(uris[other.name], range_of(other, span))
            related.append(types.DiagnosticRelatedInformation(place, acted["words"]))
    return types.Diagnostic(
        range_of(file, node.name.span),
        f"{known.name}: {state_words(known)}",
        severity=severity,
        code=code,
        source=SOURCE,
        related_information=related or None,
    )


# ---------------------------------------------------------------- mends


def mending(
    job: OpenJob,
    reading: Reading,
    file: SourceFile,
    begin: int,
    end: int,
    uri_of: Callable[[OpenJob, str], str],
) -> list[types.CodeAction]:
    """The changes that put right what fails at a place; before they are looked for, the way to that."""
    if not job.is_judged_as_it_is:
        return []
    offered: list[types.CodeAction] = []
    states = job.states()
    trees = {each.span.file: each for each in reading.trees}
    for _, node in _requirements(trees[file.name]):
        if node.span.start > end or node.span.end < begin:
            continue
        for known in _known_at(node, reading, states):
            if known.state != "failed":
                continue
            found = job.mends.get(known.name)
            if found is None:
                title = f"Look for changes of the rules that put {known.name} right"
                arguments = [uri_of(job, file.name), known.name]
                command = types.Command(title, "duskproof.mend", arguments=arguments)
                kind = types.CodeActionKind.QuickFix
                offered.append(types.CodeAction(title, kind=kind, command=command))
                continue
            offered.extend(_mend(each, job, reading, uri_of) for each in found)
    return offered


def _mend(
    mend: dict[str, Any],
    job: OpenJob,
    reading: Reading,
    uri_of: Callable[[OpenJob, str], str],
) -> types.CodeAction:
    changes = {}
    for name, text in mend["files"].items():
        file = reading.sources.by_name[name]
        changes[uri_of(job, name)] = _line_edits(file, text)
    title = mend["words"][0].upper() + mend["words"][1:]
    if mend["broken"]:
        title += f" (breaks {', '.join(mend['broken'])})"
    elif mend["undecided"]:
        title += f" (not known of {', '.join(mend['undecided'])})"
    return types.CodeAction(
        title, kind=types.CodeActionKind.QuickFix, edit=types.WorkspaceEdit(changes)
    )


def _line_edits(file: SourceFile, text: str) -> list[types.TextEdit]:
    """The edits, of whole lines, that make a file's text another one."""
    old, new = file.text.splitlines(keepends=True), text.splitlines(keepends=True)
    starts = [0]
    for line in old:
        starts.append(starts[-1] + len(line))
    edits = []
    for tag, a, b, c, d in difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if tag != "equal":
            place = types.Range(position_of(file, starts[a]), position_of(file, starts[b]))
            edits.append(types.TextEdit(place, "".join(new[c:d])))
    return edits
