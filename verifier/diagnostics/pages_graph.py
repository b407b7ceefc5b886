"""The pages of what the structure of the rules shows, and of what only a proof finds."""

from __future__ import annotations

from verifier.diagnostics.codes import Page
from verifier.diagnostics.record import Severity

PAGES: tuple[Page, ...] = (
    Page(
        code="rule-never-fires",
        known=("structure", "proof"),
        severity=Severity.WARNING,
        title="A rule that can never fire",
        means="None of the rule's events can happen with its guard true, whatever the surroundings do.",
        why="What it was written for never comes about, and nobody notices on a quick try.",
        example="""\
flag armed
lamp light
rule arm
  non-retriggerable
  upon armed becomes yes
  do
    light on
    wait 1 min
    light off
end rule
""",
        instead="""\
button push
lamp light
flag armed
rule set
  upon push pressed
  do
    armed yes
end rule
rule arm
  non-retriggerable
  upon armed becomes yes
  do
    light on
    wait 1 min
    light off
end rule
""",
    ),
    Page(
        code="event-never-happens",
        known=("structure",),
        severity=Severity.WARNING,
        title="An event that never happens",
        means=(
            "Nothing sets the point to the value that the line waits for, or the rule that should "
            "start or end never fires."
        ),
        why="One of the situations that the rule was written for never comes about.",
        example="""\
button push
flag armed
lamp light
rule lit
  non-retriggerable
  upon push pressed
  upon armed becomes yes
  do
    light on
    wait 1 min
    light off
end rule
""",
        instead="""\
button push
lamp light
rule lit
  non-retriggerable
  upon push pressed
  do
    light on
    wait 1 min
    light off
end rule
""",
    ),
    Page(
        code="power-cuts-not-considered",
        known=("structure",),
        severity=Severity.NOTE,
        title="`power returns` where power cuts are not considered",
        means="Faults come from `consider` alone: with no `consider power cuts` power never returns.",
        why="What the line does is never tried, so a proof says nothing about it.",
        example="""\
button push
lamp light
rule lit
  non-retriggerable
  upon push pressed
  upon power returns
  do
    light on
    wait 1 min
    light off
end rule
""",
        instead="""\
consider power cuts
button push
lamp light
rule lit
  non-retriggerable
  upon push pressed
  upon power returns
  do
    light on
    wait 1 min
    light off
end rule
""",
    ),
    Page(
        code="statement-never-reached",
        known=("structure",),
        severity=Severity.WARNING,
        title="A statement that is never reached",
        means="Each way through the statement before it ends the run.",
        why="What stands here never happens: a lamp that it should turn off stays on.",
        example="""\
button push
lamp light
rule lit
  non-retriggerable
  upon push pressed
  do
    light on
    wait 1 min
    end run
    light off
end rule
""",
        instead="""\
button push
lamp light
rule lit
  non-retriggerable
  upon push pressed
  do
    light on
    wait 1 min
    light off
    end run
end rule
""",
    ),
    Page(
        code="branch-never-reached",
        known=("structure", "proof"),
        severity=Severity.WARNING,
        title="A branch that is never reached",
        means="The condition of the branch is never true where it is read.",
        why="What stands in it never happens: often a condition is the wrong way round.",
        example="""\
button push
contact gate
lamp light
rule lit
  upon push pressed
  do
    if gate is open then
      light on
    elsif gate is open and night then
      light off
    end if
end rule
""",
        instead="""\
button push
contact gate
lamp light
rule lit
  upon push pressed
  do
    if gate is open then
      light on
    elsif night then
      light off
    end if
end rule
""",
    ),
    Page(
        code="guard-always-true",
        known=("structure", "proof"),
        severity=Severity.NOTE,
        title="A condition that is always true",
        means="Where it is read the condition cannot be false.",
        why="It says nothing, so perhaps another was meant.",
        example="""\
lamp light
rule lit
  upon night begins provided night
  do
    light on
end rule
rule out
  upon day begins
  do
    light off
end rule
""",
        instead="""\
lamp light
rule lit
  upon night begins
  do
    light on
end rule
rule out
  upon day begins
  do
    light off
end rule
""",
    ),
    Page(
        code="guard-always-false",
        known=("structure", "proof"),
        severity=Severity.WARNING,
        title="A guard that is never true",
        means="When the event of this line happens, the guard cannot be true.",
        why="The line never triggers anything.",
        example="""\
button push
contact gate
lamp light
rule lit
  non-retriggerable
  upon push pressed
  upon gate becomes open provided gate is shut
  do
    light on
    wait 1 min
    light off
end rule
""",
        instead="""\
button push
contact gate
lamp light
rule lit
  non-retriggerable
  upon push pressed
  upon gate becomes open provided night
  do
    light on
    wait 1 min
    light off
end rule
""",
    ),
    Page(
        code="wait-without-way-out",
        known=("structure", "proof"),
        severity=Severity.WARNING,
        title="A wait that never ends",
        means="Nothing that can happen makes the condition true.",
        why="The run stays there for ever, and what should follow never comes: a lamp stays on.",
        example="""\
button push
flag armed
lamp light
rule lit
  non-retriggerable
  upon push pressed
  do
    light on
    wait until armed is yes
    light off
end rule
""",
        instead="""\
button push
contact gate
lamp light
rule lit
  non-retriggerable
  upon push pressed
  do
    light on
    wait until gate is shut
    light off
end rule
""",
    ),
    Page(
        code="wait-without-limit",
        known=("structure",),
        severity=Severity.NOTE,
        title="A wait on a door, with no limit",
        means="The run waits for a limit switch, and a door can stop part way for as long as it likes.",
        why="A lamp that goes off behind the wait then stays on.",
        example="""\
limit up
limit down
door shutter
  raised by up
  lowered by down
  travel 12 s to 20 s
end door
button push
lamp light
rule lit
  non-retriggerable
  upon push pressed
  do
    light on
    wait until down is reached
    light off
end rule
""",
        instead="""\
limit up
limit down
door shutter
  raised by up
  lowered by down
  travel 12 s to 20 s
end door
button push
lamp light
rule lit
  non-retriggerable
  upon push pressed
  do
    light on
    wait until down is reached, at most 1 min
    light off
end rule
""",
    ),
    Page(
        code="never-turned-off",
        known=("structure", "proof"),
        severity=Severity.WARNING,
        title="An output that no rule turns off",
        means=(
            "Some rule turns it on, no rule turns it off, and it has no local switch; or the `off` is "
            "there, and no run comes to it."
        ),
        why="It burns from the first time on.",
        example="""\
button push
lamp light
rule lit
  upon push pressed
  do
    light on
end rule
""",
        instead="""\
button push
lamp light
rule lit
  retriggerable
  upon push pressed
  do
    light on
    wait 5 min
    light off
end rule
""",
    ),
    Page(
        code="two-drivers",
        known=("structure",),
        severity=Severity.NOTE,
        title="An output that more than one rule sets",
        means="A rule turns a lamp, dimmer or load on, and another one turns it off.",
        why="The shorter time of one can cut the longer one of another short.",
        example="""\
button push
contact gate
lamp light
rule by_push
  non-retriggerable
  upon push pressed
  do
    light on
    wait 1 min
    light off
end rule
rule by_gate
  non-retriggerable
  upon gate becomes open
  do
    light on
    wait 5 min
    light off
end rule
""",
        instead="""\
button push
contact gate
lamp light
rule by_both
  retriggerable
  upon push pressed
  upon gate becomes open
  do
    light on
    wait 5 min
    light off
end rule
""",
    ),
    Page(
        code="point-unused",
        known=("structure",),
        severity=Severity.WARNING,
        title="A point that nothing uses",
        means="No rule, requirement, door, room or assumption names the point.",
        why="It was fitted for something: perhaps a rule is missing, or names another point.",
        example="""\
contact gate
button push
lamp light
rule lit
  non-retriggerable
  upon push pressed
  do
    light on
    wait 1 min
    light off
end rule
""",
        instead="""\
button push
lamp light
rule lit
  non-retriggerable
  upon push pressed
  do
    light on
    wait 1 min
    light off
end rule
""",
    ),
    Page(
        code="timed-from-occupied",
        known=("structure",),
        severity=Severity.NOTE,
        title="A light timed from becoming occupied",
        means=(
            "The time runs from the moment at which the detector becomes occupied, and nothing that "
            "the detector does later renews it."
        ),
        why="While people stay seen there is no new detection, and the light goes off over them.",
        example="""\
detector pir
lamp light
rule lit
  retriggerable
  upon pir becomes occupied
  do
    light on
    wait 5 min
    light off
end rule
""",
        instead="""\
detector pir
lamp light
rule lit
  non-retriggerable
  upon pir becomes occupied
  do
    light on
    wait until pir has stayed vacant for 5 min
    light off
end rule
""",
    ),
    Page(
        code="outlives-guard",
        known=("structure",),
        severity=Severity.NOTE,
        title="A light that outlives its guard",
        means=(
            "The light is turned on by night only, and what turns it off comes from outside and may "
            "not come; nothing turns it off when day begins."
        ),
        why="A guard is read once, when the trigger is handled: it does not turn anything off.",
        example="""\
contact gate
lamp light
rule lit
  upon gate becomes open
  provided night
  do
    light on
end rule
rule out
  upon gate becomes shut
  do
    light off
end rule
""",
        instead="""\
contact gate
lamp light
rule lit
  upon gate becomes open
  provided night
  do
    light on
end rule
rule out
  upon gate becomes shut
  upon day begins
  do
    light off
end rule
""",
    ),
    Page(
        code="waiting-never-needed",
        known=("structure",),
        severity=Severity.WARNING,
        title="Waiting triggers that are never needed",
        means=(
            "The rule keeps waiting triggers, and none ever meets a run: its body cannot wait, or its "
            "guard asks that it is not running."
        ),
        why="The policy says something that never happens.",
        example="""\
button push
flag armed
rule set
  at once 1, waiting 2
  upon push pressed
  do
    if armed is yes then
      armed no
    else
      armed yes
    end if
end rule
""",
        instead="""\
button push
flag armed
rule set
  upon push pressed
  do
    if armed is yes then
      armed no
    else
      armed yes
    end if
end rule
""",
    ),
    Page(
        code="endless-chain",
        known=("proof",),
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
        known=("proof",),
        severity=Severity.WARNING,
        title="States from which time cannot go on",
        means=(
            "What is assumed contradicts itself in some states: the surroundings could not go on for "
            "ever from there. Such states are left out of all runs."
        ),
        why="If an assumption is wrong, cases are left out that do happen on site.",
    ),
    Page(
        code="sun-never-turns",
        known=("structure",),
        severity=Severity.NOTE,
        title="Dates without a night, or without a day",
        means=(
            "At the site the sun does not go below, or not above, the altitude that makes night on "
            "the dates named (of the first year for which the job is proved)."
        ),
        why="A rule that waits for such a night waits for weeks, and what it was to do is not done.",
        example="""\
site "Harbour office"
  latitude 60.17 deg
  longitude 24.94 deg
  timezone "Europe/Helsinki"
  night below -12 deg
end site
lamp quay_light
rule dusk
  upon night begins
  do
    quay_light on
end rule
rule dawn
  upon day begins
  do
    quay_light off
end rule
""",
        instead="""\
site "Harbour office"
  latitude 60.17 deg
  longitude 24.94 deg
  timezone "Europe/Helsinki"
end site
lamp quay_light
rule dusk
  upon night begins
  do
    quay_light on
end rule
rule dawn
  upon day begins
  do
    quay_light off
end rule
""",
    ),
    Page(
        code="clock-change",
        known=("structure",),
        severity=Severity.NOTE,
        title="A time that a change of the clock skips or repeats",
        means="On the dates named the clock shows the time of an event twice, or not at all.",
        why="What it switches is switched twice in that night, or stays as it was for a day.",
        example="""\
site "Harbour office"
  latitude 52.21 deg
  longitude 0.12 deg
  timezone "Europe/London"
end site
lamp quay_light
rule late
  upon at 01:30
  do
    quay_light on
end rule
rule early
  upon at 05:00
  do
    quay_light off
end rule
""",
        instead="""\
site "Harbour office"
  latitude 52.21 deg
  longitude 0.12 deg
  timezone "Europe/London"
end site
lamp quay_light
rule late
  upon at 00:30
  do
    quay_light on
end rule
rule early
  upon at 05:00
  do
    quay_light off
end rule
""",
    ),
)
