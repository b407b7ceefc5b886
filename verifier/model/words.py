"""Conditions, events, statements, forms and figures back in the contract's own words.

What is printed here reads back as what was printed (levels and durations that have no finite
decimal excepted): drawings, stories, findings and papers all speak through this module.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import assert_never

from verifier.model.job import (
    AfterLast,
    Always,
    And,
    AssumeAlways,
    AssumeStays,
    Assumption,
    AtClock,
    AtMostTimes,
    Atom,
    Becomes,
    Before,
    Between,
    Cancel,
    Changes,
    Condition,
    DayBegins,
    EndRun,
    Event,
    Fade,
    Fault,
    FaultKind,
    Form,
    HasStayed,
    If,
    Implies,
    Is,
    LeadsTo,
    Level,
    MeasureLongest,
    Never,
    Night,
    NightBegins,
    NoLonger,
    NoShorter,
    Not,
    Or,
    Policy,
    Possible,
    PowerReturns,
    Pressed,
    Put,
    Repeat,
    Requirement,
    RuleEnds,
    RuleStarts,
    Running,
    Statement,
    Stayed,
    TimedOut,
    Trigger,
    Value,
    Wait,
    WaitUntil,
    WhenFor,
    WhenWithin,
)

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")

# ---------------------------------------------------------------- figures


def number(figure: Fraction) -> str:
    """A figure as a decimal, exact if it has a finite one, else as a fraction.

    >>> number(Fraction(5, 2)), number(Fraction(1, 3)), number(Fraction(-833, 1000))
    ('2.5', '1/3', '-0.833')
    """
    numerator, denominator = figure.numerator, figure.denominator
    places = 0
    while denominator % 10 == 0:
        denominator //= 10
        places += 1
    for factor, other in ((2, 5), (5, 2)):
        while denominator % factor == 0:
            denominator //= factor
            numerator *= other
            places += 1
    if denominator != 1:
        return f"{figure.numerator}/{figure.denominator}"
    if places == 0:
        return str(numerator)
    digits = str(abs(numerator)).rjust(places + 1, "0")
    sign = "-" if numerator < 0 else ""
    return f"{sign}{digits[:-places]}.{digits[-places:]}"


def duration(seconds: Fraction) -> str:
    """A duration in seconds as the contract writes one.

    >>> [duration(Fraction(s)) for s in ("90", "0.25", "3600", "5400.5", "0", "10.001")]
    ['1 min 30 s', '250 ms', '1 h', '1 h 30 min 500 ms', '0 s', '10.001 s']
    """
    if seconds < 0:
        return f"-{duration(-seconds)}"
    hours, rest = divmod(seconds, 3600)
    minutes, rest = divmod(rest, 60)
    parts = []
    if hours:
        parts.append(f"{hours} h")
    if minutes:
        parts.append(f"{minutes} min")
    if rest and rest < 1:
        parts.append(f"{number(rest * 1000)} ms")
    elif rest or not parts:
        parts.append(f"{number(rest)} s")
    return " ".join(parts)


def level(percent: Fraction) -> str:
    """A level in per cent.

    >>> level(Fraction(60))
    '60 %'
    """
    return f"{number(percent)} %"


def clock_time(seconds: int) -> str:
    """A clock time; the seconds only where there are any.

    >>> clock_time(81000), clock_time(61)
    ('22:30', '00:01:01')
    """
    minutes, second = divmod(seconds, 60)
    text = f"{minutes // 60:02d}:{minutes % 60:02d}"
    return f"{text}:{second:02d}" if second else text


def days(chosen: Iterable[int]) -> str:
    """Days of the week, Monday first.

    >>> days(frozenset({6, 0}))
    'mon, sun'
    """
    return ", ".join(DAYS[day] for day in sorted(chosen))


def _on_days(chosen: frozenset[int] | None) -> str:
    return "" if chosen is None else f" on {days(chosen)}"


def value(of: Value) -> str:
    """A point's value: its word, or a dimmer's level with ``off`` for 0.

    >>> value("open"), value(Fraction(0)), value(Fraction(100))
    ('open', 'off', '100 %')
    """
    if isinstance(of, str):
        return of
    return "off" if of == 0 else level(of)


# ---------------------------------------------------------------- atoms and conditions


def atom_value(atom: Atom) -> str:
    """What an atom says of its subject, as it stands after ``becomes``, ``stays`` or ``is``.

    >>> atom_value(Level("strip", "above", Fraction(0)))
    'on'
    """
    match atom:
        case Is(_, word):
            return word
        case Level(_, "above", percent) if percent == 0:
            return "on"
        case Level(_, "at most", percent) if percent == 0:
            return "off"
        case Level(_, "equal", percent):
            return level(percent)
        case Level(_, comparison, percent):
            return f"{comparison} {level(percent)}"
        case _:
            assert_never(atom)


def atom_words(atom: Atom) -> str:
    """An atom as a condition: ``side_door is open``, ``strip below 50 %``."""
    text = atom_value(atom)
    compared = isinstance(atom, Level) and text.split(" ")[0] in ("above", "below", "at")
    return f"{atom.subject} {text}" if compared else f"{atom.subject} is {text}"


def timer_words(timer: Stayed) -> str:
    """A timer, as a condition and as an event."""
    return f"{timer.atom.subject} has stayed {atom_value(timer.atom)} for {duration(timer.for_s)}"


def condition_words(condition: Condition) -> str:
    """A condition, with parentheses where its structure needs them or a reader would ask.

    >>> lit = Is("lamp", "on")
    >>> condition_words(Implies(And((Not(Night()), Or((lit, Running("walk"))))), Not(lit)))
    'day and (lamp is on or walk is running) implies not lamp is on'
    """
    match condition:
        case Is() | Level():
            return atom_words(condition)
        case Stayed():
            return timer_words(condition)
        case Night():
            return "night"
        case Not(Night()):
            return "day"
        case Between(from_s, to_s, chosen):
            return f"between {clock_time(from_s)} and {clock_time(to_s)}{_on_days(chosen)}"
        case Running(rule):
            return f"{rule} is running"
        case TimedOut():
            return "timed out"
        case Not(item):
            return f"not {_inner(item)}"
        case And(items):
            return " and ".join(_inner(item) for item in items)
        case Or(items):
            return " or ".join(_inner(item) for item in items)
        case Implies(left, right):
            first = condition_words(left)
            if isinstance(left, Implies):
                first = f"({first})"
            return f"{first} implies {condition_words(right)}"
        case _:
            assert_never(condition)


def _inner(condition: Condition) -> str:
    """A condition inside another one."""
    text = condition_words(condition)
    return f"({text})" if isinstance(condition, And | Or | Implies) else text


# ---------------------------------------------------------------- events


def event_words(event: Event) -> str:
    """An event.

    >>> event_words(AtClock(81000, frozenset({0, 1})))
    'at 22:30 on mon, tue'
    """
    match event:
        case Becomes(atom):
            return f"{atom.subject} becomes {atom_value(atom)}"
        case Changes(subject):
            return f"{subject} changes"
        case Pressed(button):
            return f"{button} pressed"
        case HasStayed(timer):
            return timer_words(timer)
        case NightBegins():
            return "night begins"
        case DayBegins():
            return "day begins"
        case AtClock(time_s, chosen):
            return f"at {clock_time(time_s)}{_on_days(chosen)}"
        case PowerReturns():
            return "power returns"
        case RuleStarts(rule):
            return f"{rule} starts"
        case RuleEnds(rule):
            return f"{rule} ends"
        case _:
            assert_never(event)


def events_words(events: Iterable[Event]) -> str:
    """Several events joined by ``or``."""
    return " or ".join(event_words(event) for event in events)


def trigger_words(trigger: Trigger) -> str:
    """An ``upon`` line."""
    guard = "" if trigger.guard is None else f" provided {condition_words(trigger.guard)}"
    return f"upon {event_words(trigger.event)}{guard}"


def policy_words(policy: Policy) -> str:
    """What a trigger does while the rule is running.

    >>> policy_words(Policy(1, 0, True)), policy_words(Policy(2, 3, True))
    ('retriggerable', 'at once 2, waiting 3, oldest gives way')
    """
    if policy.at_once == 1 and policy.waiting == 0:
        return "retriggerable" if policy.oldest_gives_way else "non-retriggerable"
    waiting = f", waiting {policy.waiting}" if policy.waiting else ""
    gives_way = ", oldest gives way" if policy.oldest_gives_way else ""
    return f"at once {policy.at_once}{waiting}{gives_way}"


# ---------------------------------------------------------------- statements


def statement_words(statement: Statement) -> str:
    """A statement on one line; of a compound one its head.

    >>> from verifier.source import NOWHERE
    >>> statement_words(Fade("strip", Fraction(30), Fraction(10), NOWHERE))
    'fade strip to 30 % over 10 s'
    """
    match statement:
        case Put(point, given):
            return f"{point} {_put_value(given)}"
        case Fade(dimmer, percent, over_s):
            return f"fade {dimmer} to {level(percent)} over {duration(over_s)}"
        case Wait(for_s):
            return f"wait {duration(for_s)}"
        case WaitUntil(condition, at_most_s):
            limit = "" if at_most_s is None else f", at most {duration(at_most_s)}"
            return f"wait until {condition_words(condition)}{limit}"
        case If(branches):
            return f"if {condition_words(branches[0].condition)} then"
        case Repeat(_, until):
            return f"repeat until {condition_words(until)}"
        case Cancel(rule):
            return f"cancel {rule}"
        case EndRun():
            return "end run"
        case _:
            assert_never(statement)


def _put_value(given: Value) -> str:
    return "on" if given == 100 else value(given)


def body_lines(body: Iterable[Statement], indent: str = "") -> tuple[str, ...]:
    """A body, one statement a line, as it may stand in a rule."""
    deeper = indent + "  "
    lines: list[str] = []
    for statement in body:
        match statement:
            case If(branches, otherwise):
                word = "if"
                for branch in branches:
                    lines.append(f"{indent}{word} {condition_words(branch.condition)} then")
                    lines.extend(body_lines(branch.body, deeper))
                    word = "elsif"
                if otherwise:
                    lines.append(f"{indent}else")
                    lines.extend(body_lines(otherwise, deeper))
                lines.append(f"{indent}end if")
            case Repeat(inner, until):
                lines.append(f"{indent}repeat")
                lines.extend(body_lines(inner, deeper))
                lines.append(f"{indent}until {condition_words(until)}")
                lines.append(f"{indent}end repeat")
            case _:
                lines.append(indent + statement_words(statement))
    return tuple(lines)


# ---------------------------------------------------------------- assumptions, faults, forms


def assumption_words(assumption: Assumption) -> str:
    """An assumption as it may be written."""
    match assumption:
        case AssumeAlways(Not(And() | Or() | Implies() as item)):
            return f"assume never ({condition_words(item)})"
        case AssumeAlways(condition):
            return f"assume always ({condition_words(condition)})"
        case AssumeStays(atom, bound, seconds):
            return f"assume {atom.subject} stays {atom_value(atom)} {bound} {duration(seconds)}"
        case _:
            assert_never(assumption)


def fault_words(fault: Fault) -> str:
    """A fault as it stands after ``consider``."""
    match fault.kind:
        case FaultKind.POWER_CUTS:
            return "power cuts"
        case FaultKind.LOST_REPORTS:
            return f"lost reports of {fault.subject}"
        case FaultKind.BOUNCE:
            limit = "" if fault.within_s is None else f" up to {duration(fault.within_s)}"
            return f"bounce of {fault.subject}{limit}"
        case FaultKind.STUCK:
            return f"{fault.subject} stuck"
        case FaultKind.BROKEN_WIRE:
            return f"broken wire of {fault.subject}"
        case FaultKind.BOTH_LIMITS:
            return f"both limits of {fault.subject} reached"
        case _:
            assert_never(fault.kind)


def form_words(form: Form) -> str:
    """A requirement's form.

    >>> form_words(AfterLast((Pressed("push"),), Is("lamp", "off"), Fraction(60)))
    'after last push pressed: lamp is off within 1 min'
    """
    match form:
        case Always(c):
            return f"always: {condition_words(c)}"
        case Never(c):
            return f"never: {condition_words(c)}"
        case WhenWithin(events, c, d):
            return f"when {events_words(events)}: {condition_words(c)} within {duration(d)}"
        case WhenFor(events, c, d):
            return f"when {events_words(events)}: {condition_words(c)} for at least {duration(d)}"
        case AfterLast(events, c, d):
            return f"after last {events_words(events)}: {condition_words(c)} within {duration(d)}"
        case Before(events, c, d):
            return f"before {events_words(events)}: {condition_words(c)} for at least {duration(d)}"
        case NoLonger(d, c):
            return f"no longer than {duration(d)}: {condition_words(c)}"
        case NoShorter(d, c):
            return f"no shorter than {duration(d)}: {condition_words(c)}"
        case AtMostTimes(times, d, events):
            return f"at most {times} times in {duration(d)}: {events_words(events)}"
        case LeadsTo(rule, c):
            return f"every trigger of {rule} leads to {condition_words(c)}"
        case Possible(c):
            return f"possible: {condition_words(c)}"
        case MeasureLongest(c, events):
            return f"measure longest: {condition_words(c)} after last {events_words(events)}"
        case _:
            assert_never(form)


def requirement_words(requirement: Requirement) -> str:
    """A requirement's scope, form and allowance on one line, as it may be written."""
    scope = "" if requirement.scope is None else f"while {condition_words(requirement.scope)}: "
    allowing = f" allowing {duration(requirement.allowing_s)}" if requirement.allowing_s else ""
    return f"{scope}{form_words(requirement.form)}{allowing}"


# ---------------------------------------------------------------- any of them

Worded = Condition | Event | Statement | Form | Trigger | Policy | Assumption | Fault | Requirement


def words(thing: Worded) -> str:
    """Anything of a job that has words of its own, on one line.

    >>> words(Pressed("push")), words(Not(Is("door", "open")))
    ('push pressed', 'not door is open')
    """
    if isinstance(thing, Condition):
        return condition_words(thing)
    if isinstance(thing, Event):
        return event_words(thing)
    if isinstance(thing, Statement):
        return statement_words(thing)
    if isinstance(thing, Form):
        return form_words(thing)
    match thing:
        case Trigger():
            return trigger_words(thing)
        case Policy():
            return policy_words(thing)
        case AssumeAlways() | AssumeStays():
            return assumption_words(thing)
        case Fault():
            return fault_words(thing)
        case Requirement():
            return requirement_words(thing)
        case _:
            assert_never(thing)
