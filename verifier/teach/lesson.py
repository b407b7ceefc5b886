"""A lesson as it was read: aims, text in blocks, questions, a challenge. Data alone."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from verifier.model.figures import Quantity
from verifier.model.job import Job
from verifier.simulate.script import Script
from verifier.source import SourceFile, Sources, Span

Lane = tuple[tuple[Fraction, str], ...]
"""What a thing is through time: (seconds from the start, value from then on), the start first."""


# ---------------------------------------------------------------- text


@dataclass(frozen=True, slots=True)
class Heading:
    """The heading of a section."""

    text: str


@dataclass(frozen=True, slots=True)
class Prose:
    """A paragraph. In it, `back quotes` hold words of the language, **stars** what matters."""

    text: str


@dataclass(frozen=True, slots=True)
class Items:
    """A list; ``numbered`` if its order matters."""

    items: tuple[str, ...]
    numbered: bool


@dataclass(frozen=True, slots=True)
class Listing:
    """Lines shown as they are; ``kind`` is ``dusk`` for rules, ``console`` for commands, or empty."""

    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class FormShown:
    """A requirement form that is read back, with a run that keeps it and one that breaks it."""

    form: str
    job: str
    span: Span


@dataclass(frozen=True, slots=True)
class Asked:
    """Here stands the question with this number (1 is the first)."""

    number: int


@dataclass(frozen=True, slots=True)
class Challenged:
    """Here stands the challenge."""


Block = Heading | Prose | Items | Listing | FormShown | Asked | Challenged


# ---------------------------------------------------------------- questions


@dataclass(frozen=True, slots=True)
class Claim:
    """A form and what the prover says of it; ``bound_s`` of an answered one."""

    verdict: str
    bound_s: Fraction | None
    form: str
    span: Span


@dataclass(frozen=True, slots=True)
class Predict:
    """Draw what ``thing`` is while the script's happenings happen, up to the script's end.

    ``job`` is the folder inside the lesson whose job is meant (empty: the lesson's own). ``key`` is
    the lane as the author wrote it, if so; what is right is what the interpreter says.
    """

    ask: str
    job: str
    thing: str
    script: Script
    told: tuple[str, ...]
    key: Lane | None
    why: str
    span: Span


@dataclass(frozen=True, slots=True)
class Word:
    """Answered by a word; any of ``keys`` is right."""

    ask: str
    keys: tuple[str, ...]
    why: str
    span: Span
    claims: tuple[Claim, ...] = ()
    job: str = ""


@dataclass(frozen=True, slots=True)
class Figure:
    """Answered by a figure with its unit, or by a bare number."""

    ask: str
    key: Quantity
    told: str
    why: str
    span: Span
    claims: tuple[Claim, ...] = ()
    job: str = ""


@dataclass(frozen=True, slots=True)
class Choose:
    """Answered by one of the options; ``right`` is its place, from 0."""

    ask: str
    options: tuple[str, ...]
    right: int
    why: str
    span: Span
    claims: tuple[Claim, ...] = ()
    job: str = ""


Question = Predict | Word | Figure | Choose


# ---------------------------------------------------------------- challenge


@dataclass(frozen=True, slots=True)
class Variant:
    """Rules that a learner's requirement is tried on; ``keeps`` if it has to hold there."""

    name: str
    keeps: bool
    words: str
    rules: str


@dataclass(frozen=True, slots=True)
class Hidden:
    """What a challenge is graded by, and an answer that passes.

    Either ``requirements``, which the learner's rules have to keep, or ``variants`` of rules, which
    the learner's requirements have to tell apart.
    """

    requirements: str
    variants: tuple[Variant, ...]
    solution: str


@dataclass(frozen=True, slots=True)
class Challenge:
    """What is to be done with the job that the learner starts from (of the folder ``job``)."""

    ask: str
    job: str
    hidden: Hidden
    span: Span


# ---------------------------------------------------------------- lesson


@dataclass(frozen=True, slots=True)
class Outline:
    """The head of a lesson: what the list of lessons shows.

    ``verdicts`` are what the author says comes out of the lesson's own requirements.
    """

    name: str
    title: str
    minutes: int
    aims: tuple[str, ...]
    optional: bool
    verdicts: tuple[tuple[str, str], ...]
    questions: int
    """How many there are."""


@dataclass(frozen=True, slots=True)
class LessonJob:
    """A job of a lesson: its folder (empty: the lesson's own), its files, and what was read."""

    folder: str
    files: tuple[SourceFile, ...]
    job: Job


@dataclass(frozen=True, slots=True)
class Lesson:
    """A whole lesson. ``sources`` are all its texts, for the places of diagnostics."""

    outline: Outline
    blocks: tuple[Block, ...]
    questions: tuple[Question, ...]
    challenge: Challenge | None
    jobs: tuple[LessonJob, ...]
    sources: Sources

    def job(self, folder: str) -> LessonJob:
        """The job of a folder. Raises: KeyError."""
        for each in self.jobs:
            if each.folder == folder:
                return each
        raise KeyError(folder)
