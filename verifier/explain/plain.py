"""Requirements in plain words, for people who do not read rules.

What is said is exact: "at least", "no later than" and "more than" are never mixed up, and what
people take differently (what counts at the start, whether the bound itself is allowed, what an
interruption does) is spelt out after the sentence.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import assert_never

from verifier.explain.figures import counted
from verifier.explain.naming import named
from verifier.explain.plain_words import (
    plain_condition,
    plain_denial,
    plain_event,
    plain_events,
)
from verifier.model.job import (
    AfterLast,
    Always,
    AtMostTimes,
    Before,
    Condition,
    Event,
    Form,
    Implies,
    Job,
    LeadsTo,
    MeasureLongest,
    Never,
    NoLonger,
    NoShorter,
    Possible,
    Requirement,
    WhenFor,
    WhenWithin,
)
from verifier.model.words import duration

__all__ = [
    "ReadBack",
    "plain",
    "plain_condition",
    "plain_denial",
    "plain_event",
    "plain_events",
    "read_back",
]


@dataclass(frozen=True, slots=True)
class ReadBack:
    """A requirement read back: the sentence, and what it means exactly, a sentence each."""

    sentence: str
    exactly: tuple[str, ...]

    @property
    def text(self) -> str:
        """All of it as one paragraph."""
        return " ".join((self.sentence, *self.exactly))


def plain(requirement: Requirement, job: Job) -> str:
    """A requirement in plain words: its sentence and what it means exactly, as one paragraph."""
    return read_back(requirement, job).text


def read_back(requirement: Requirement, job: Job) -> ReadBack:
    """A requirement in plain words."""
    said = _Said(requirement, job)
    sentence, exactly = said.form(requirement.form)
    if requirement.scope is not None:
        sentence = f"While {plain_condition(requirement.scope, job)}: {sentence}"
    else:
        sentence = sentence[0].upper() + sentence[1:]
    return ReadBack(sentence, tuple(each for each in exactly if each))


class _Said:
    """The sentences of one requirement."""

    def __init__(self, requirement: Requirement, job: Job) -> None:
        self.job = job
        self.scoped = requirement.scope is not None
        self.allowing_s = requirement.allowing_s

    def form(self, form: Form) -> tuple[str, tuple[str, ...]]:
        """The sentence of a form, and what it means exactly."""
        match form:
            case Always(condition):
                return self._always(condition)
            case Never(condition):
                return self._never(condition)
            case WhenWithin(events, condition, within_s):
                return self._within(events, condition, within_s)
            case WhenFor(events, condition, for_s):
                return self._for(events, condition, for_s)
            case AfterLast(events, condition, within_s):
                return self._after_last(events, condition, within_s)
            case Before(events, condition, for_s):
                return self._before(events, condition, for_s)
            case NoLonger(most_s, condition):
                return self._no_longer(most_s, condition)
            case NoShorter(least_s, condition):
                return self._no_shorter(least_s, condition)
            case AtMostTimes(times, in_s, events):
                return self._at_most(times, in_s, events)
            case LeadsTo(rule, condition):
                return self._leads_to(rule, condition)
            case Possible(condition):
                return self._possible(condition)
            case MeasureLongest(condition, events):
                return self._measure(condition, events)
            case _:
                assert_never(form)

    def so(self, condition: Condition) -> str:
        """A condition as a clause."""
        return plain_condition(condition, self.job)

    def when(self, events: tuple[Event, ...]) -> str:
        """Events as a clause."""
        return plain_events(events, self.job)

    # ------------------------------------------------------------ what all forms share

    def _gap(self, gone: str, *, start: bool = False) -> str:
        """What an interruption that is allowed means."""
        if not self.allowing_s:
            return ""
        at_start = " Also one that is there at the start." if start else ""
        return (
            f"{gone} does not count if all of it lasts {duration(self.allowing_s)} or less; "
            f"a longer one counts, and from its beginning on.{at_start}"
        )

    def _outside(self, rest: str = "") -> str:
        if not self.scoped:
            return ""
        return f"Outside of that nothing is promised.{f' {rest}' if rest else ''}"

    @staticmethod
    def _any(events: tuple[Event, ...]) -> str:
        return " (whichever of them it is)" if len(events) > 1 else ""

    # ------------------------------------------------------------ form by form

    def _always(self, condition: Condition) -> tuple[str, tuple[str, ...]]:
        at_start = "This is promised from the very start on."
        if isinstance(condition, Implies):
            left, right = self.so(condition.left), self.so(condition.right)
            sentence = f"whenever {left}, {right}."
            first = (
                "An exception"
                if self.allowing_s
                else (
                    f"It has to be so from the very moment on at which {left}, and all the time: "
                    "not even a short exception is allowed."
                )
            )
            exactly = (
                self._gap(first) if self.allowing_s else first,
                f"As long as {plain_denial(condition.left, self.job)}, nothing is promised here.",
            )
            return sentence, (*exactly, self._outside())
        sentence = f"at every moment {self.so(condition)}."
        strict = "" if self.allowing_s else "Not even a short exception is allowed."
        gap = self._gap("An exception", start=True)
        return sentence, (strict, gap, at_start if not self.scoped else "", self._outside())

    def _never(self, condition: Condition) -> tuple[str, tuple[str, ...]]:
        sentence = f"it is never so that {self.so(condition)}."
        strict = "" if self.allowing_s else "Not even for a moment."
        gap = self._gap("A time in which it is so", start=True)
        at_start = "" if self.scoped else "This is promised from the very start on."
        return sentence, (strict, gap, at_start, self._outside())

    def _within(
        self, events: tuple[Event, ...], condition: Condition, within_s: Fraction
    ) -> tuple[str, tuple[str, ...]]:
        when, so = self.when(events), self.so(condition)
        if within_s:
            sentence = f"every time {when}, {so} no later than {duration(within_s)} after that."
            exactly = (
                f"Exactly {duration(within_s)} after it is still in time.",
                "If it is so at that very moment already, that is enough; how long it stays so is "
                "not promised here.",
            )
        else:
            sentence = f"every time {when}, {so} at once, in the same moment."
            exactly = ("How long it stays so is not promised here.", "")
        rest = "What is still due when it is over is dropped."
        return sentence, (*exactly, self._outside(rest))

    def _for(
        self, events: tuple[Event, ...], condition: Condition, for_s: Fraction
    ) -> tuple[str, tuple[str, ...]]:
        sentence = (
            f"every time {self.when(events)}, {self.so(condition)} from that very moment on, "
            f"for at least {duration(for_s)}."
        )
        breaks = "" if self.allowing_s else "Without a break, however short."
        gap = self._gap("An interruption", start=True)
        again = (
            f"Each further time it counts anew. Once exactly {duration(for_s)} is over it may end."
        )
        rest = "When that is over, what is left of the time is dropped."
        return sentence, (breaks, gap, again, self._outside(rest))

    def _after_last(
        self, events: tuple[Event, ...], condition: Condition, within_s: Fraction
    ) -> tuple[str, tuple[str, ...]]:
        sentence = (
            f"whenever more than {duration(within_s)} has passed since the last time that "
            f"{self.when(events)}{self._any(events)}, {self.so(condition)}."
        )
        exactly = (
            "Each further time it counts anew, so that the last one counts.",
            f"Up to exactly {duration(within_s)} after it may be otherwise, and before the first "
            "time nothing is promised.",
        )
        rest = "When it is over the counting ends; it begins with the next time inside."
        return sentence, (*exactly, self._outside(rest))

    def _before(
        self, events: tuple[Event, ...], condition: Condition, for_s: Fraction
    ) -> tuple[str, tuple[str, ...]]:
        sentence = (
            f"every time {self.when(events)}, it has been so just before, without a break for at "
            f"least {duration(for_s)}, that {self.so(condition)}."
        )
        exactly = (
            f"Exactly {duration(for_s)} is enough.",
            "What is so from that moment on does not matter.",
        )
        if self.scoped:
            rest = f"It is asked only once that has lasted for {duration(for_s)}."
            return sentence, (*exactly, self._outside(rest))
        return sentence, (
            *exactly,
            f"It must not happen in the first {duration(for_s)} after the start, as it cannot have "
            "been so for long enough by then.",
        )

    def _no_longer(self, most_s: Fraction, condition: Condition) -> tuple[str, tuple[str, ...]]:
        sentence = (
            f"it is never so for longer than {duration(most_s)} at a stretch that "
            f"{self.so(condition)}."
        )
        gap = self._gap("A pause in between")
        if gap:
            gap = f"{gap} (So a pause that does not count does not make it begin anew either.)"
        start = "" if self.scoped else "What is so at the start counts from the start."
        rest = "The time counts from when that begins."
        return sentence, (
            f"Exactly {duration(most_s)} is allowed.",
            gap,
            start,
            self._outside(rest),
        )

    def _no_shorter(self, least_s: Fraction, condition: Condition) -> tuple[str, tuple[str, ...]]:
        sentence = (
            f"each time it comes to be so that {self.so(condition)}, it stays so for at least "
            f"{duration(least_s)}."
        )
        rest = "A stretch that the beginning or end of that cuts is not judged."
        return sentence, (
            f"Once exactly {duration(least_s)} is over it may end.",
            self._gap("A pause in between"),
            "What is so at the start is not judged.",
            self._outside(rest),
        )

    def _at_most(
        self, times: int, in_s: Fraction, events: tuple[Event, ...]
    ) -> tuple[str, tuple[str, ...]]:
        sentence = (
            f"in any {duration(in_s)}, it happens at most {counted(times, 'time')} that "
            f"{self.when(events)}."
        )
        together = "" if len(events) == 1 else "They are counted together."
        exactly = (
            f"From the first of {times + 1} to the last of them more than {duration(in_s)} has to "
            "pass."
        )
        rest = "When it is over the counting begins anew."
        return sentence, (together, exactly, self._outside(rest))

    def _leads_to(self, rule: str, condition: Condition) -> tuple[str, tuple[str, ...]]:
        name = named(self.job, rule).words
        sentence = (
            f"every time {name} was set going, and nothing outside changes any more from some "
            f"moment on, it comes to be so in the end that {self.so(condition)}, and stays so."
        )
        return sentence, (
            "“Nothing outside changes” means: doors, people, contacts, daylight and switches at "
            "the lamps stay as they are; the clock goes on.",
            "A trigger that finds the rule running counts, too.",
            "How long it takes is not part of the promise; the proof tells it.",
        )

    def _possible(self, condition: Condition) -> tuple[str, tuple[str, ...]]:
        sentence = f"it can happen that {self.so(condition)}."
        exactly = (
            "It is a check that the rules leave this possible; it is not promised that it happens."
        )
        return sentence, (exactly, "" if not self.scoped else "It has to be possible inside that.")

    def _measure(
        self, condition: Condition, events: tuple[Event, ...]
    ) -> tuple[str, tuple[str, ...]]:
        sentence = (
            f"it is asked how long after the last time that {self.when(events)}"
            f"{self._any(events)} it can still be so that {self.so(condition)}."
        )
        return sentence, (
            "This is a question and no promise: the answer is the longest time that is possible, "
            "or that there is no limit.",
        )
