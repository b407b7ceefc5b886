"""A job that is open in an editor: its texts, what reading them shows, and what is proved of them.

A verdict is shown as such only while the job means what it meant when it was judged; with the first
edit that changes the meaning every requirement is stale, and with an edit that takes that back it is
what it was. A job that cannot be read is stale throughout.
"""

from __future__ import annotations

import os
import threading
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, Literal

from verifier.diagnostics import Diagnostic
from verifier.front.editor.judging import finding_from
from verifier.front.folder import MOST_FILES, SUFFIX, decoded, read_file
from verifier.language import tree
from verifier.language.library import library
from verifier.model.checking import parsed
from verifier.model.job import Job
from verifier.model.mentions import Mentions
from verifier.pipeline import checked
from verifier.source import SourceFile, Sources

State = Literal["stale", "running", "proved", "failed", "undecided"]

MARKS: dict[str, str] = {
    "stale": "○",
    "running": "…",
    "proved": "✓",
    "failed": "✗",
    "undecided": "?",
}


@dataclass(frozen=True)
class Reading:
    """The texts of a job and what reading them shows; ``job`` is None if they have errors."""

    sources: Sources
    job: Job | None
    findings: tuple[Diagnostic, ...]

    @cached_property
    def trees(self) -> tuple[tree.File, ...]:
        """The syntax trees, as far as they can be read."""
        return tuple(parsed(file)[0] for file in self.sources.files)

    @cached_property
    def mentions(self) -> Mentions:
        """Where each name stands."""
        trees = self.trees
        claims = any(isinstance(each, tree.Claim) for each in _every(trees))
        return Mentions(trees, library() if claims else ())


def _every(trees: tuple[tree.File, ...]) -> list[tree.Declaration]:
    found = [each for file in trees for each in file.declarations]
    return found + [
        i for each in found if isinstance(each, tree.Typical) for i in each.declarations
    ]


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of one requirement; ``told`` is the newest verdict as plain data, if there is one."""

    name: str
    state: State
    told: dict[str, Any] | None

    @property
    def vacuous(self) -> bool:
        """Whether it is proved without ever having come into play."""
        return self.told is not None and bool(self.told["vacuous"])


@dataclass
class _Round:
    """One judging: of which job, and what has come of it so far."""

    number: int
    sources: Sources
    job: Job
    verdicts: dict[str, dict[str, Any]] = field(default_factory=dict)
    findings: tuple[Diagnostic, ...] = ()
    over: bool = False
    rejected: bool = False
    """Whether an error of the whole job was found: then no verdict counts."""
    whole: bool = False
    """Whether all was judged."""
    words: str = ""
    """What went wrong with the judging itself, if something did."""


class OpenJob:
    """One job: a folder, or a text that lies in none."""

    def __init__(self, folder: Path | None, name: str) -> None:
        self.folder = folder
        self.name = name
        self.open: dict[str, SourceFile] = {}
        self._kept: dict[str, tuple[tuple[int, int], SourceFile, Diagnostic | None]] = {}
        self._reading: Reading | None = None
        self._is_read = False
        self._lock = threading.Lock()
        self._round: _Round | None = None
        self.mends: dict[str, list[dict[str, Any]]] = {}

    # ------------------------------------------------------------ texts

    def put(self, name: str, text: str) -> None:
        """Takes the text of a file as it is in the editor."""
        file, _ = decoded(text.encode("utf-8", "surrogatepass"), name)
        old = self.open.get(name)
        if old is None or old.text != file.text:
            self.open[name] = file
            self._is_read = False

    def drop(self, name: str) -> None:
        """The file is no longer in the editor; what is on disk counts again."""
        self.open.pop(name, None)
        self._is_read = False

    def sources(self) -> tuple[Sources, tuple[Diagnostic, ...]]:
        """All texts of the job, those in the editor before those on disk; and what cannot be read."""
        files, problems = dict(self.open), []
        for name in self._on_disk():
            if name in files:
                continue
            file, problem = self._read(name)
            if file is not None:
                files[name] = file
            if problem is not None:
                problems.append(problem)
        return Sources(tuple(files[name] for name in sorted(files))), tuple(problems)

    def _on_disk(self) -> list[str]:
        if self.folder is None:
            return []
        try:
            with os.scandir(self.folder) as entries:
                names = sorted(entry.name for entry in entries if not entry.name.startswith("."))
        except (OSError, ValueError):
            return []
        return [name for name in names if name.lower().endswith(SUFFIX)][:MOST_FILES]

    def _read(self, name: str) -> tuple[SourceFile | None, Diagnostic | None]:
        assert self.folder is not None
        path = self.folder / name
        try:
            status = path.stat()
        except OSError:
            return None, None  # it is gone already
        stamp = (status.st_mtime_ns, status.st_size)
        kept = self._kept.get(name)
        if kept is not None and kept[0] == stamp:
            return kept[1], kept[2]
        file, problem = read_file(path, name)
        if file is not None:
            self._kept[name] = (stamp, file, problem)
        return file, problem

    def read(self) -> Reading:
        """The job as it is now. What has not changed is not read again.

        May be called from several threads: none brings back an older text than another has read.
        """
        with self._lock:
            self._is_read = True
            sources, problems = self.sources()
            if self._reading is not None and self._reading.sources == sources:
                return self._reading
            if problems:
                self._reading = Reading(sources, None, problems)
            else:
                result = checked(sources, self.name)
                job = None if result.rejected else result.job
                self._reading = Reading(sources, job, result.findings)
            return self._reading

    @property
    def reading(self) -> Reading:
        """The job as it was last read."""
        return self._reading if self._reading is not None else self.read()

    # ------------------------------------------------------------ verdicts

    def begin(self, number: int, reading: Reading) -> None:
        """A judging of this reading begins; its verdicts will come under this number."""
        assert reading.job is not None
        self._round = _Round(number, reading.sources, reading.job)
        self.mends = {}

    def heard(self, message: dict[str, Any]) -> bool:
        """Takes in what was found; whether there is something new to show."""
        now = self._round
        if now is None or message["id"] != now.number:
            return False
        match message["kind"]:
            case "verdict":
                now.verdicts[message["name"]] = message
            case "judged":
                now.findings = tuple(finding_from(each) for each in message["findings"])
                now.over = True
                now.whole = not message["interrupted"]
                now.rejected = message["rejected"]
            case _:
                now.over = True
                now.words = message.get("words", "")
        return True

    def stopped(self) -> None:
        """What was being judged is not judged to its end."""
        if self._round is not None:
            self._round.over = True

    def _current(self) -> _Round | None:
        """The newest judging, if the job still means what it meant then."""
        now = self._round
        if now is None or self._reading is None or self._reading.job is None:
            return None
        if not self._is_read:
            return None  # a newer text is there, and nobody knows yet what it means
        if now.sources == self._reading.sources or now.job == self._reading.job:
            return now
        return None

    @property
    def is_judged_as_it_is(self) -> bool:
        """Whether what is known speaks of exactly the text that there is now, places and all."""
        now = self._current()
        return now is not None and now.sources == self.reading.sources

    def is_judged(self) -> bool:
        """Whether all of exactly the text that there is now has been judged, or is being judged."""
        now = self._current()
        if now is None or now.sources != self.reading.sources:
            return False
        return not now.over or now.whole

    def states(self) -> tuple[Known, ...]:
        """What is known of each requirement, in declared order; of a job with errors as last declared."""
        now = self._current()
        names = self._names()
        found = []
        for name in names:
            told = None if now is None else now.verdicts.get(name)
            found.append(Known(name, "stale" if now is None else _state(now, told), told))
        return tuple(found)

    def _names(self) -> tuple[str, ...]:
        job = self.reading.job
        if job is not None:
            return tuple(requirement.name for requirement in job.requirements)
        return () if self._round is None else tuple(r.name for r in self._round.job.requirements)

    def found_by_proof(self) -> tuple[Diagnostic, ...]:
        """What the newest judging found besides verdicts, while the text is that which it judged."""
        if not self.is_judged_as_it_is or self._round is None:
            return ()
        told = {(each.code, each.labels[0].span) for each in self.reading.findings}
        return tuple(f for f in self._round.findings if (f.code, f.labels[0].span) not in told)

    @property
    def trouble(self) -> str:
        """What went wrong with the newest judging itself, in words; empty if nothing did."""
        return "" if self._round is None else self._round.words

    @property
    def is_running(self) -> bool:
        """Whether something is being judged."""
        return self._round is not None and not self._round.over


def _state(now: _Round, told: dict[str, Any] | None) -> State:
    """The state of a requirement by what has come of a judging that speaks of the job as it is.

    A failing run is one as soon as it is there. A proof counts only when all of the job is judged:
    an error of the whole job (an endless chain) that is found last makes it void.
    """
    if told is None:
        return "stale" if now.over else "running"
    state: State = told["state"]
    if now.rejected:
        return "stale"
    if now.over and not now.whole:
        return state if state == "failed" else "stale"
    if state == "proved" and not now.over:
        return "running"
    return state
