"""The pages of what the structure of the rules shows, and of what only a proof finds."""

from __future__ import annotations

from verifier.diagnostics.codes import Page
from verifier.diagnostics.record import Severity

PAGES: tuple[Page, ...] = (
    Page(
        code="rule-never-fires",
        severity=Severity.WARNING,
        title="A rule that can never fire",
        means="None of the rule's events can happen with its guard true, whatever the surroundings do.",
        why="What it was written for never comes about, and nobody notices on a quick try.",
    ),
    Page(
        code="event-never-happens",
        severity=Severity.WARNING,
        title="An event that never happens",
        means=(
            "Nothing sets the point to the value that the line waits for, or the rule that should "
            "start or end never fires. For `power returns` it is a note: power cuts are not considered."
        ),
        why="One of the situations that the rule was written for never comes about.",
    ),
    Page(
        code="statement-never-reached",
        severity=Severity.WARNING,
        title="A statement that is never reached",
        means="Each way through the statement before it ends the run.",
        why="What stands here never happens: a lamp that it should turn off stays on.",
    ),
    Page(
        code="branch-never-reached",
        severity=Severity.WARNING,
        title="A branch that is never reached",
        means="The condition of the branch is never true where it is read.",
        why="What stands in it never happens: often a condition is the wrong way round.",
    ),
    Page(
        code="guard-always-true",
        severity=Severity.NOTE,
        title="A condition that is always true",
        means="Where it is read the condition cannot be false.",
        why="It says nothing, so perhaps another was meant.",
    ),
    Page(
        code="guard-always-false",
        severity=Severity.WARNING,
        title="A guard that is never true",
        means="When the event of this line happens, the guard cannot be true.",
        why="The line never triggers anything.",
    ),
    Page(
        code="wait-without-way-out",
        severity=Severity.WARNING,
        title="A wait that never ends",
        means="Nothing that can happen makes the condition true.",
        why="The run stays there for ever, and what should follow never comes: a lamp stays on.",
    ),
    Page(
        code="wait-without-limit",
        severity=Severity.NOTE,
        title="A wait on a door, with no limit",
        means="The run waits for a limit switch, and a door can stop part way for as long as it likes.",
        why="A lamp that goes off behind the wait then stays on.",
    ),
    Page(
        code="never-turned-off",
        severity=Severity.WARNING,
        title="An output that no rule turns off",
        means="Some rule turns it on, no rule turns it off, and it has no local switch.",
        why="It burns from the first time on.",
    ),
    Page(
        code="two-drivers",
        severity=Severity.NOTE,
        title="An output that more than one rule sets",
        means="Two rules or more set the same lamp, dimmer or load.",
        why="The shorter time of one can cut the longer one of another short.",
    ),
    Page(
        code="point-unused",
        severity=Severity.WARNING,
        title="A point that nothing uses",
        means="No rule, requirement, door, room or assumption names the point.",
        why="It was fitted for something: perhaps a rule is missing, or names another point.",
    ),
    Page(
        code="timed-from-occupied",
        severity=Severity.NOTE,
        title="A light timed from becoming occupied",
        means=(
            "The time runs from the moment at which the detector becomes occupied, and nothing that "
            "the detector does later renews it."
        ),
        why="While people stay seen there is no new detection, and the light goes off over them.",
    ),
    Page(
        code="outlives-guard",
        severity=Severity.NOTE,
        title="A light that outlives its guard",
        means=(
            "The light is turned on by night only, and what turns it off comes from outside and may "
            "not come; nothing turns it off when day begins."
        ),
        why="A guard is read once, when the trigger is handled: it does not turn anything off.",
    ),
    Page(
        code="waiting-never-needed",
        severity=Severity.WARNING,
        title="Waiting triggers that are never needed",
        means=(
            "The rule keeps waiting triggers, and none ever meets a run: its body cannot wait, or its "
            "guard asks that it is not running."
        ),
        why="The policy says something that never happens.",
    ),
    Page(
        code="endless-chain",
        title="An endless chain",
        means=(
            "In a state that can be reached, one happening sets off rules that set each other off for "
            "ever, or a `repeat` that goes round with no time passing."
        ),
        why="A controller hangs, or a lamp flickers as fast as it can. No verdict is given.",
    ),
    Page(
        code="chain-undecided",
        severity=Severity.WARNING,
        title="An endless chain that could not be ruled out",
        means="The search for an endless chain reached its limits.",
        why="What was proved of the requirements holds; of other rules it is not known.",
    ),
    Page(
        code="states-left-out",
        title="States from which time cannot go on",
        means=(
            "What is assumed contradicts itself in some states: the surroundings could not go on for "
            "ever from there. Such states are left out of all runs."
        ),
        why="If an assumption is wrong, cases are left out that do happen on site.",
    ),
)
