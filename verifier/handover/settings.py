"""The schedule of settings: every figure of the rules, and between which values the requirements hold.

The edges are found by proof: the text is changed, the requirements whose part of the job that touches
are proved anew, and the edge is closed in on by halving. Halving takes it that what holds at two
values holds between them; what stands beside an edge was proved, and what stands beyond it not.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, is_dataclass
from fractions import Fraction
from math import ceil, floor
from typing import Any, Literal

from verifier.explain.edits import Edit, edited
from verifier.explain.mending import checked, good
from verifier.language import parse, tree
from verifier.model.figures import Quantity, Unit, quantity
from verifier.model.job import Job, Requirement
from verifier.model.words import clock_time, duration, level
from verifier.proof.verdict import Proved, Undecided, Verdict
from verifier.source import Sources, Span

Kind = Literal["duration", "level", "clock time"]
_KINDS: dict[Unit, Kind] = {
    Unit.DURATION: "duration",
    Unit.LEVEL: "level",
    Unit.CLOCK: "clock time",
}

LONGEST_S = Fraction(8 * 3600)
"""No longer duration is tried, unless the figure itself is longer."""

REFUSED = ("",)
"""In place of requirements: the changed text has an error."""

PROOF_S = 3.0
"""The time for one requirement at one value."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure as it is written. ``name`` is that of its setting, or empty; ``used`` where it is read.

    ``where`` is the rule that it stands in, empty of a setting. Units: seconds, per cent, seconds of
    the day.
    """

    name: str
    where: str
    kind: Kind
    value: Fraction
    span: Span
    used: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Edge:
    """How far a figure can go one way.

    ``last`` was proved. ``beyond`` is the next value, and ``by`` the requirements that do not hold
    with it; None and none where nothing stopped it up to ``last``. ``unsure``: the proof at
    ``beyond`` found no answer in its time, or the search had to end before the edge was closed in.
    """

    last: Fraction
    beyond: Fraction | None
    by: tuple[str, ...]
    unsure: bool


@dataclass(frozen=True, slots=True)
class Held:
    """A figure with its two edges (None: not looked for), and the requirements that it can matter to."""

    figure: Figure
    low: Edge | None
    high: Edge | None
    touches: tuple[str, ...]


def words_of(kind: Kind, value: Fraction) -> str:
    """A value as the language writes it.

    >>> words_of("duration", Fraction(90)), words_of("level", Fraction(60))
    ('1 min 30 s', '60 %')
    """
    match kind:
        case "duration":
            return duration(value)
        case "level":
            return level(value)
        case "clock time":
            return clock_time(int(value))


# ---------------------------------------------------------------- the figures of a text


def figures_of(sources: Sources) -> tuple[Figure, ...]:
    """Every duration, level and clock time of settings and rules, in order of the text."""
    found: list[Figure] = []
    rules: list[tree.Rule] = []
    settings: list[tree.Setting] = []
    for file in sources.files:
        for declaration in _declared(parse(file)[0].declarations):
            if isinstance(declaration, tree.Rule):
                rules.append(declaration)
            elif isinstance(declaration, tree.Setting):
                settings.append(declaration)
    for setting in settings:
        used = tuple(
            name.span
            for rule in rules
            for name in _leaves(rule.body, tree.Name)
            if name.text.rpartition(".")[2] == setting.name.text
        )
        used += tuple(
            name.span
            for rule in rules
            for name in _leaves(rule.head, tree.Name)
            if name.text.rpartition(".")[2] == setting.name.text
        )
        found.extend(_figure(setting.figure, setting.name.text, "", used))
    for rule in rules:
        heads = [line for line in rule.head if not isinstance(line, tree.Policy)]
        for leaf in (*_leaves(tuple(heads), tree.Figure), *_leaves(rule.body, tree.Figure)):
            found.extend(_figure(leaf, "", rule.name.text, ()))
    order = {file.name: number for number, file in enumerate(sources.files)}
    return tuple(sorted(found, key=lambda each: (order[each.span.file], each.span.start)))


def _declared(declarations: tuple[tree.Declaration, ...]) -> Iterator[tree.Declaration]:
    for declaration in declarations:
        if isinstance(declaration, tree.Typical):
            yield from _declared(declaration.declarations)
        else:
            yield declaration


def _leaves(node: Any, kind: type[Any]) -> Iterator[Any]:
    """Every node of a kind below a node, in order."""
    if isinstance(node, kind):
        yield node
    elif isinstance(node, tuple):
        for item in node:
            yield from _leaves(item, kind)
    elif is_dataclass(node) and not isinstance(node, Span):
        for each in fields(node):
            yield from _leaves(getattr(node, each.name), kind)


def _figure(leaf: tree.Figure, name: str, where: str, used: tuple[Span, ...]) -> Iterator[Figure]:
    typed = quantity(leaf.text)
    if isinstance(typed, Quantity) and typed.unit in _KINDS:
        yield Figure(name, where, _KINDS[typed.unit], typed.value, leaf.span, used)


# ---------------------------------------------------------------- the edges


def schedule(
    sources: Sources,
    job: Job,
    verdicts: dict[str, Verdict],
    limit_s: float,
    workers: int,
    tell: Callable[[str], None],
) -> tuple[Held, ...]:
    """Every figure with its edges, searched side by side; about ``limit_s`` seconds in all.

    ``tell`` hears each figure as it is done.
    """
    from verifier.proof.workers import Finished, Pool, Task

    figures = figures_of(sources)
    names = tuple(
        name for name, verdict in verdicts.items() if isinstance(verdict, Proved) and good(verdict)
    )
    movable = [k for k, figure in enumerate(figures) if figure.kind != "clock time"]
    share = max(2.0, limit_s * max(1, workers) / max(1, len(movable)))
    tasks = [
        Task(
            k,
            "verifier.handover.settings:held_task",
            (sources, job, figures[k], names, share),
            share + 2 * PROOF_S + 10,
        )
        for k in movable
    ]
    found: dict[int, Held] = {}
    with Pool(max(1, min(workers, len(tasks)))) as pool:
        for done in pool.run(tasks):
            figure = figures[done.id]
            tell(figure.name or words_of(figure.kind, figure.value))
            if isinstance(done.outcome, Finished):
                found[done.id] = done.outcome.value
    return tuple(found.get(k, Held(figure, None, None, ())) for k, figure in enumerate(figures))


def held_task(
    sources: Sources, job: Job, figure: Figure, names: tuple[str, ...], limit_s: float
) -> Held:
    """The edges of one figure, as a worker finds them."""
    return _Search(sources, job, figure, names, limit_s).held()


@dataclass(frozen=True, slots=True)
class _Tried:
    """What came of a value: the requirements that fail with it, and whether any had no answer."""

    by: tuple[str, ...]
    unsure: bool

    @property
    def holds(self) -> bool:
        return not self.by and not self.unsure


class _Search:
    def __init__(
        self, sources: Sources, job: Job, figure: Figure, names: tuple[str, ...], limit_s: float
    ) -> None:
        self.sources, self.job, self.figure = sources, job, figure
        self.until = time.monotonic() + limit_s
        self.names = list(names)
        self.touched: dict[str, None] = {}
        self.fine = figure.kind == "duration" and (
            figure.value < 5 or figure.value.denominator != 1
        )
        self.grain = Fraction(1, 10) if self.fine else Fraction(1)

    def held(self) -> Held:
        now = self.figure.value
        least = self.grain
        most = Fraction(100) if self.figure.kind == "level" else max(LONGEST_S, 4 * now)
        low = self._edge(now, least) if now > least else Edge(now, None, (), False)
        high = self._edge(now, most) if now < most else Edge(now, None, (), False)
        touches = tuple(name for name in self.names if name in self.touched)
        return Held(
            self.figure, low, high, tuple(sorted(touches, key=list(self.job.requirement).index))
        )

    def _edge(self, now: Fraction, last: Fraction) -> Edge:
        """From what holds now towards ``last``: one step, then the whole way, then by halving."""
        up = last > now
        step = now + self.grain if up else now - self.grain
        step = Fraction(floor(step / self.grain) if up else ceil(step / self.grain)) * self.grain
        if (up and step >= last) or (not up and step <= last):
            step = last
        tried = self._tried(step, whole=True)
        if not tried.holds:
            return Edge(now, step, tried.by, tried.unsure)
        holds, bad, why = step, last, self._tried(last, whole=False) if step != last else tried
        if why.holds:
            return Edge(last, None, (), False)
        while abs(bad - holds) > self.grain:
            if time.monotonic() > self.until:
                return Edge(holds, bad, why.by, True)
            middle = self._between(holds, bad)
            tried = self._tried(middle, whole=False)
            if tried.holds:
                holds = middle
            else:
                bad, why = middle, tried
        if not why.unsure:
            why = self._tried(bad, whole=True)
        return Edge(holds, bad, why.by, why.unsure)

    def _between(self, holds: Fraction, bad: Fraction) -> Fraction:
        """A value between, on the grid; upwards first by doubling, as edges lie near."""
        middle = min((holds + bad) / 2, 2 * holds) if bad > holds else (holds + bad) / 2
        on_grid = Fraction(round(middle / self.grain)) * self.grain
        low, high = min(holds, bad), max(holds, bad)
        return min(max(on_grid, low + self.grain), high - self.grain)

    def _tried(self, value: Fraction, *, whole: bool) -> _Tried:
        """What fails with a value: the first that does, or (``whole``) all of it."""
        text = words_of(self.figure.kind, value)
        job = checked(edited(self.sources, (Edit(self.figure.span, text),)), self.job)
        if job is None:
            return _Tried(REFUSED, False)
        by: list[str] = []
        unsure = False
        for name in tuple(self.names):
            if not self._touches(job, name):
                continue
            self.touched.setdefault(name)
            verdict = self._judged(job, job.requirement[name])
            if verdict is None or isinstance(verdict, Undecided):
                unsure = True
            elif not good(verdict):
                by.append(name)
            else:
                continue
            # What fails once is asked first the next time.
            self.names.remove(name)
            self.names.insert(0, name)
            if not whole:
                break
        return _Tried(tuple(sorted(by, key=list(self.job.requirement).index)), unsure and not by)

    def _touches(self, job: Job, name: str) -> bool:
        """Whether the requirement, or its part of the job, is another than before."""
        from verifier.graph.slice import slice_job

        if name not in job.requirement:
            return False
        before, after = self.job.requirement[name], job.requirement[name]
        return before != after or slice_job(self.job, before) != slice_job(job, after)

    def _judged(self, job: Job, requirement: Requirement) -> Verdict | None:
        from verifier.proof.closed import EvidenceFailed
        from verifier.proof.decide import decide
        from verifier.proof.question import Budget, EndlessChainFound

        try:
            return decide(job, requirement, Budget(limit_s=PROOF_S))
        except (EndlessChainFound, EvidenceFailed):
            return None
