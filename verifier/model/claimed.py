"""Which standard requirements fit a job, and which of them it claims."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from verifier.language import tree
from verifier.model.job import (
    Becomes,
    Changes,
    Condition,
    Event,
    HasStayed,
    Is,
    Job,
    LeadsTo,
    Level,
    Pressed,
    Requirement,
    RuleEnds,
    RuleStarts,
    Running,
    Stayed,
    atoms_and_leaves,
    read_by_requirement,
)
from verifier.model.names import RuleName, Thing
from verifier.model.standards import THING_KINDS, kind_word


@dataclass(frozen=True, slots=True)
class Fit:
    """How a standard requirement and a job fit.

    ``fitting`` holds for each parameter that takes things the names of those that it could be given;
    ``claims`` are the requirements that claim it. ``claimed`` and ``open`` part the things that fit
    its first parameter: those that a claim of it speaks of, and the others.
    """

    standard: tree.Standard
    fitting: tuple[tuple[tree.Takes, tuple[str, ...]], ...]
    claims: tuple[str, ...]
    claimed: tuple[str, ...]
    open: tuple[str, ...]

    @property
    def missing(self) -> tuple[tree.Takes, ...]:
        """The parameters for which the job has nothing."""
        return tuple(takes for takes, names in self.fitting if not names)

    @property
    def applies(self) -> bool:
        """Whether the job has something for every parameter."""
        return not self.missing


def fits(job: Job, standards: Iterable[tree.Standard]) -> tuple[Fit, ...]:
    """How each standard requirement fits a job, in their order."""
    return tuple(_fit(job, standard) for standard in standards)


def _fit(job: Job, standard: tree.Standard) -> Fit:
    fitting = tuple(
        (takes, tuple(name for name, kind in _things(job) if kind in _kinds(takes)))
        for takes in standard.parameters
        if takes.kinds[0].text in THING_KINDS
    )
    claims = [each for each in job.requirements if each.standard == standard.name.text]
    spoken = {name for each in claims for name in subjects(each)}
    first = fitting[0][1] if fitting else ()
    return Fit(
        standard,
        fitting,
        tuple(each.name for each in claims),
        tuple(name for name in first if name in spoken),
        tuple(name for name in first if name not in spoken),
    )


def _kinds(takes: tree.Takes) -> tuple[str, ...]:
    return tuple(kind.text for kind in takes.kinds)


def _things(job: Job) -> Iterator[tuple[str, str]]:
    """The names of a job's things, each with its kind."""
    rules = (RuleName(rule.name, rule.span) for rule in job.rules)
    things: tuple[Thing, ...] = (*job.points, *job.doors, *job.rooms, *rules)
    for thing in things:
        yield thing.name, kind_word(thing)


def subjects(requirement: Requirement) -> tuple[str, ...]:
    """The names of all that a requirement speaks of, as often as it does."""
    conditions, events = read_by_requirement(requirement)
    names = [name for each in events for name in _of_event(each)]
    leaves = (leaf for each in conditions for leaf in atoms_and_leaves(each))
    names.extend(name for leaf in leaves for name in _of_leaf(leaf))
    if isinstance(requirement.form, LeadsTo):
        names.append(requirement.form.rule)
    return tuple(names)


def _of_leaf(leaf: Condition) -> tuple[str, ...]:
    match leaf:
        case Is(subject) | Level(subject) | Stayed(Is(subject) | Level(subject)):
            return (subject,)
        case Running(rule):
            return (rule,)
        case _:
            return ()


def _of_event(event: Event) -> tuple[str, ...]:
    match event:
        case Becomes(atom) | HasStayed(Stayed(atom)):
            return _of_leaf(atom)
        case Changes(name) | Pressed(name) | RuleStarts(name) | RuleEnds(name):
            return (name,)
        case _:
            return ()
