"""The pages of what can be wrong with what the text says."""

from __future__ import annotations

from verifier.diagnostics.codes import Page
from verifier.diagnostics.record import Severity

PAGES: tuple[Page, ...] = (
    Page(
        code="allowing-misplaced",
        title="`allowing` after a form that takes none",
        means=(
            "`allowing` fills gaps in a stretch; it follows `always`, `never`, `for at least`, `no "
            "longer than` and `no shorter than`."
        ),
        why="After `within` it would say nothing that a longer time does not.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
require lit
  when side_door becomes open: bay_lights is on within 1 s
  allowing 1 s
end require
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
require lit
  when side_door becomes open: bay_lights is on within 2 s
end require
""",
    ),
    Page(
        code="assumes-own",
        title="An assumption about what the rules do",
        means=(
            "`assume` narrows what the surroundings may do, so it names inputs, doors, rooms, night "
            "and clock only."
        ),
        why="Assuming what is to be proved proves anything.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
assume always (side_door is open implies bay_lights is on)
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
require lit
  always: side_door is open implies bay_lights is on
end require
""",
    ),
    Page(
        code="bounds-contradict",
        severity=Severity.WARNING,
        title="A stretch that must be longer than it can be",
        means=(
            "One line says that something stays as it is for so long at least, another that it stays "
            "so for less at most. Runs in which such a stretch begins are left out of all verdicts."
        ),
        why="What is left out is never proved: if one of the figures is wrong, so is the verdict.",
        example="""\
detector bench_motion holds 8 s
assume bench_motion stays occupied at most 5 s
""",
        instead="""\
detector bench_motion holds 8 s
assume bench_motion stays occupied at most 5 min
""",
    ),
    Page(
        code="button-value",
        title="A button asked for its value",
        means="A button is pressed and that is all: it has no value that lasts.",
        why="A maintained input is a `switch`.",
        example="""\
button wall_push
lamp bay_lights
contact side_door
rule entry
  upon side_door becomes open
  do
    if wall_push is on then
      bay_lights on
    end if
end rule
""",
        instead="""\
button wall_push
lamp bay_lights
rule entry
  upon wall_push pressed
  do
    bay_lights on
end rule
""",
    ),
    Page(
        code="cannot-set",
        title="A rule sets what it cannot",
        means="Rules set lamps, dimmers, loads and flags. Inputs are set by the surroundings.",
        why='A rule that "opens" a door contact does nothing on site.',
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    side_door open
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    bay_lights on
end rule
""",
    ),
    Page(
        code="door-incomplete",
        title="A door without a part",
        means="A door needs both limit switches and its travel time.",
        why="Without them its moves cannot be told.",
        example="""\
limit up
limit down
door shutter
  raised by up
  travel 12 s to 20 s
end door
""",
        instead="""\
limit up
limit down
door shutter
  raised by up
  lowered by down
  travel 12 s to 20 s
end door
""",
    ),
    Page(
        code="dotted-name",
        title="A full stop in a declared name",
        means="Full stops come from applying typicals: `floor_1.light`.",
        why="A dotted name that is declared could be taken for one of a typical.",
        example="""\
lamp floor.light
""",
        instead="""\
lamp floor_light
""",
    ),
    Page(
        code="duplicate-name",
        title="A name for two things",
        means="Points, doors, rooms, rules and settings share their names; requirements have their own.",
        why="A rule could mean either.",
        example="""\
lamp bay_lights
lamp bay_lights
""",
        instead="""\
lamp bay_lights
lamp bench_lights
""",
    ),
    Page(
        code="empty-body",
        severity=Severity.WARNING,
        title="A rule that does nothing",
        means="There is no statement between `do` and `end rule`.",
        why="It starts and ends, and nothing else happens; mostly something was forgotten.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    bay_lights on
end rule
""",
    ),
    Page(
        code="empty-file",
        severity=Severity.NOTE,
        title="A file with nothing in it",
        means="One of the job's files holds no declaration.",
        why="Perhaps what should be in it was saved elsewhere, and is missing from the job.",
    ),
    Page(
        code="empty-job",
        title="An empty job",
        means="None of the files declares anything.",
        why="There is nothing to judge.",
        example="""\
# nothing yet
""",
        instead="""\
lamp bay_lights
""",
    ),
    Page(
        code="empty-stretch",
        title="A stretch from a time to the same time",
        means="`between` needs two different times.",
        why="It could mean never, or the whole day.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
require lit
  never: between 22:00 and 22:00
end require
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
require lit
  never: between 22:00 and 06:00
end require
""",
    ),
    Page(
        code="fault-impossible",
        title="A fault that the point cannot have",
        means=(
            "Only reports of a `wireless` point can be lost; a broken wire needs `wired …` or `broken"
            " wire reads …`."
        ),
        why="A fault that cannot happen proves nothing about the rules.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
consider lost reports of side_door
""",
        instead="""\
contact side_door wireless
consider lost reports of side_door
""",
    ),
    Page(
        code="given-twice",
        title="Something is said twice",
        means="A clause, policy, guard, site or fault stands twice.",
        why="It is not clear which of the two is meant.",
        example="""\
contact side_door wireless wireless
""",
        instead="""\
contact side_door wireless
""",
    ),
    Page(
        code="implies-in-rule",
        title="`implies` in a rule",
        means="`implies` belongs to requirements and assumptions.",
        why="In a rule, where something is done or not, `if` says it plainer.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  provided side_door is open implies bay_lights is off
  do
    bay_lights on
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  provided side_door is shut or bay_lights is off
  do
    bay_lights on
end rule
""",
    ),
    Page(
        code="job-too-large",
        title="A job that is too large",
        means="Applying typicals brings forth more declarations than are taken.",
        why="It can be proved in parts.",
    ),
    Page(
        code="missing-policy",
        title="What a trigger does is not said",
        means=(
            "A rule whose body can wait says what a trigger does while it is running: "
            "`retriggerable`, `non-retriggerable` or `at once N`."
        ),
        why=(
            "There is no usual answer: one keeps the light on for as long as people move, the other "
            "leaves them in the dark."
        ),
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    wait 1 min
    bay_lights off
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  retriggerable
  upon side_door becomes open
  do
    wait 1 min
    bay_lights off
end rule
""",
    ),
    Page(
        code="mixed-and-or",
        severity=Severity.WARNING,
        title="`and` and `or` without parentheses",
        means="`and` binds before `or`; the message shows how the line is read.",
        why="Half of all readers read it the other way.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  provided night or side_door is open and bay_lights is off
  do
    bay_lights on
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  provided night or (side_door is open and bay_lights is off)
  do
    bay_lights on
end rule
""",
    ),
    Page(
        code="never-timed-out",
        severity=Severity.WARNING,
        title="`timed out` that is never true",
        means=(
            "`timed out` speaks of the run's last `wait until`. It is false where none came before, and "
            "after one without a time limit."
        ),
        why="What is to happen when the time is over never does.",
        example="""\
contact side_door
lamp bay_lights
rule entry
  retriggerable
  upon side_door becomes open
  do
    bay_lights on
    wait until side_door is shut
    if timed out then
      bay_lights off
    end if
end rule
""",
        instead="""\
contact side_door
lamp bay_lights
rule entry
  retriggerable
  upon side_door becomes open
  do
    bay_lights on
    wait until side_door is shut, at most 10 min
    if timed out then
      bay_lights off
    end if
end rule
""",
    ),
    Page(
        code="no-rules",
        severity=Severity.WARNING,
        title="A job without rules",
        means="There are requirements, and no rule that could keep or break them.",
        why="The verdicts speak of the surroundings alone.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
require lit
  never: bay_lights is on
end require
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    bay_lights on
end rule
require lit
  possible: bay_lights is on
end require
""",
    ),
    Page(
        code="no-upon",
        title="A rule that nothing triggers",
        means="A rule has at least one `upon EVENT`.",
        why="It would never run.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  provided side_door is open
  do
    bay_lights on
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    bay_lights on
end rule
""",
    ),
    Page(
        code="not-in-typical",
        title="A declaration that a typical cannot hold",
        means="A site or a typical cannot stand inside a typical.",
        why="A job has one site; typicals are named once.",
        example="""\
typical landing
  site "Hall"
  end site
end typical
""",
        instead="""\
typical landing
  lamp light
end typical
apply landing to floor_1
""",
    ),
    Page(
        code="not-readable",
        title="A rule reads what the controller cannot see",
        means=(
            "Rules see points. What a door or room is in truth belongs to the surroundings; "
            "requirements and assumptions can speak of it."
        ),
        why="A controller has only its wires.",
        example="""\
limit up
limit down
lamp beacon
door shutter
  raised by up
  lowered by down
  travel 12 s to 20 s
end door
rule warn
  upon shutter becomes moving
  do
    beacon on
end rule
""",
        instead="""\
limit up
limit down
lamp beacon
door shutter
  raised by up
  lowered by down
  travel 12 s to 20 s
end door
rule warn
  upon down becomes clear
  do
    beacon on
end rule
""",
    ),
    Page(
        code="option-misplaced",
        title="An option that does not fit the point",
        means="Each kind of point has its own options; the hint says to which this one belongs.",
        why="It would have no effect, though it looks as if it had.",
        example="""\
lamp bay_lights holds 8 s
""",
        instead="""\
detector pir holds 8 s
""",
    ),
    Page(
        code="out-of-range",
        title="A figure out of its range",
        means=(
            "Durations in statements are above 0; levels lie between 0 % and 100 %; `at once` takes 1"
            " to 16."
        ),
        why="A figure out of range is mostly a slip of a unit.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  retriggerable
  upon side_door becomes open
  do
    wait 0 s
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  retriggerable
  upon side_door becomes open
  do
    wait 1 s
end rule
""",
    ),
    Page(
        code="room-unseen",
        title="A room that nothing sees",
        means="`still at most` and `noticed within` speak of the detectors that see the room.",
        why="Without a detector nobody is ever noticed.",
        example="""\
contact side_door
room changing
  entered by side_door
  still at most 10 min
end room
""",
        instead="""\
contact side_door
detector pir
room changing
  entered by side_door
  seen by pir
  still at most 10 min
end room
""",
    ),
    Page(
        code="same-limit",
        title="One switch for both ends",
        means="A door is raised by one limit switch and lowered by another.",
        why="One switch cannot tell the two ends apart.",
        example="""\
limit up
door shutter
  raised by up
  lowered by up
  travel 12 s to 20 s
end door
""",
        instead="""\
limit up
limit down
door shutter
  raised by up
  lowered by down
  travel 12 s to 20 s
end door
""",
    ),
    Page(
        code="shared-limit",
        title="A switch of two doors",
        means="A limit or motor switch belongs to one door.",
        why="Two doors would have to move as one.",
        example="""\
limit up
limit down
limit low
door shutter
  raised by up
  lowered by down
  travel 12 s to 20 s
end door
door hatch
  raised by up
  lowered by low
  travel 12 s to 20 s
end door
""",
        instead="""\
limit up
limit down
limit top
limit low
door shutter
  raised by up
  lowered by down
  travel 12 s to 20 s
end door
door hatch
  raised by top
  lowered by low
  travel 12 s to 20 s
end door
""",
    ),
    Page(
        code="site-incomplete",
        title="A site with a part of its place",
        means="Latitude, longitude and timezone come together, or not at all.",
        why="The sun needs the place, the clock needs the zone.",
        example="""\
site "Boathouse"
  latitude 52.21 deg
end site
""",
        instead="""\
site "Boathouse"
  latitude 52.21 deg
  longitude 0.12 deg
  timezone "Europe/London"
end site
lamp bay_lights
""",
    ),
    Page(
        code="start-contradiction",
        title="A start that cannot be",
        means=(
            "The door starts at rest at one of its limits, and its switches are said to start "
            "otherwise."
        ),
        why="There would be no run at all, and everything would hold.",
        example="""\
limit up starts clear
limit down
door shutter
  raised by up
  lowered by down
  travel 12 s to 20 s
  starts raised
end door
""",
        instead="""\
limit up
limit down
door shutter
  raised by up
  lowered by down
  travel 12 s to 20 s
  starts raised
end door
""",
    ),
    Page(
        code="timed-out-outside",
        title="`timed out` outside a body",
        means="`timed out` speaks of the last `wait until` of the run that asks.",
        why="Outside a body there is no such run.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  provided timed out
  do
    bay_lights on
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  retriggerable
  upon side_door becomes open
  do
    wait until side_door is shut, at most 5 s
    if timed out then
      bay_lights on
    end if
end rule
""",
    ),
    Page(
        code="travel-order",
        title="Travel times in the wrong order",
        means="`travel` gives the least time of a full run, then the most.",
        why="No run could take so long and so short.",
        example="""\
limit up
limit down
door shutter
  raised by up
  lowered by down
  travel 20 s to 12 s
end door
""",
        instead="""\
limit up
limit down
door shutter
  raised by up
  lowered by down
  travel 12 s to 20 s
end door
""",
    ),
    Page(
        code="typical-in-itself",
        title="A typical inside itself",
        means="A typical is applied in its own body, directly or by way of another.",
        why="It would never end.",
        example="""\
typical landing
  lamp light
  apply landing to next
end typical
apply landing to floor_1
""",
        instead="""\
typical landing
  lamp light
end typical
apply landing to floor_1, floor_2
""",
    ),
    Page(
        code="typical-not-applied",
        severity=Severity.WARNING,
        title="A typical that is never applied",
        means="What stands in it is not part of the job.",
        why="Its requirements are not proved, though they are written.",
        example="""\
typical landing
  lamp light
end typical
""",
        instead="""\
typical landing
  lamp light
end typical
apply landing to floor_1
""",
    ),
    Page(
        code="unit-missing",
        title="A figure without a unit",
        means="Durations, levels, powers and angles have a unit.",
        why="60 of what?",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  retriggerable
  upon side_door becomes open
  do
    wait 60
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  retriggerable
  upon side_door becomes open
  do
    wait 60 s
end rule
""",
    ),
    Page(
        code="unknown-name",
        title="A name that nothing has",
        means="The name is not declared; near ones are shown.",
        why="A slip of the pen would otherwise make a new thing that nothing sets.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    bay_light on
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    bay_lights on
end rule
""",
    ),
    Page(
        code="unknown-value",
        title="A value that does not fit",
        means="Each kind of point has its own words; the hint names them.",
        why="A contact is open or shut, a limit reached or clear: the words tell what is meant.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes closed
  do
    bay_lights on
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes shut
  do
    bay_lights on
end rule
""",
    ),
    Page(
        code="unused-setting",
        severity=Severity.WARNING,
        title="A setting that nothing reads",
        means="A figure was given a name, and the name stands nowhere else.",
        why="Whoever changes the setting expects the job to change with it.",
        example="""\
setting run_on 2 min
button wall_push
lamp bay_lights
rule entry
  retriggerable
  upon wall_push pressed
  do
    bay_lights on
    wait 3 min
    bay_lights off
end rule
""",
        instead="""\
setting run_on 2 min
button wall_push
lamp bay_lights
rule entry
  retriggerable
  upon wall_push pressed
  do
    bay_lights on
    wait run_on
    bay_lights off
end rule
""",
    ),
    Page(
        code="while-misplaced",
        title="`while` before `every trigger of`",
        means="This form looks at the end of a run and cannot be limited to a stretch.",
        why="The stretch may be over long before.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    bay_lights on
end rule
require lit
  while night: every trigger of entry leads to bay_lights is on
end require
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    bay_lights on
end rule
require lit
  every trigger of entry leads to (day or bay_lights is on)
end require
""",
    ),
    Page(
        code="wrong-kind",
        title="A name of another kind",
        means="The name is known, and stands for something else than is wanted here.",
        why="A lamp cannot be pressed, a rule has no value.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon bay_lights pressed
  do
    bay_lights on
end rule
""",
        instead="""\
button push
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon push pressed
  do
    bay_lights on
end rule
""",
    ),
    Page(
        code="wrong-unit",
        title="A figure of another unit",
        means="A duration where a level stands, or the like; the hint says what fits.",
        why="Units are how a slip is found before it is built in.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  retriggerable
  upon side_door becomes open
  do
    wait 60 %
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  retriggerable
  upon side_door becomes open
  do
    wait 60 s
end rule
""",
    ),
    Page(
        code="night-twice",
        title="Night is stated by the clock and by the sun",
        means="A `usage` says from when to when it is night, and the site has a sun of its own.",
        why="One of the two is wrong on most days of the year, and with it every sum of energy.",
        example="""
site "Pier"
  latitude 52.2 deg
  longitude 0.1 deg
  timezone "Europe/London"
end site
usage
  night between 18:00 and 06:00
end usage
""",
        instead="""
usage
  night between 18:00 and 06:00
end usage
""",
    ),
    Page(
        code="set-by-door",
        title="A usage moves a point that a door sets",
        means="The point is a limit switch of a door, or the switch that is on while it moves.",
        why="It follows the door. Moved by itself it would say what cannot be.",
        example="""
limit up
limit down
door gate
  raised by up
  lowered by down
  travel 12 s to 20 s
end door
usage
  up becomes reached for 5 min 4 times a day
end usage
""",
        instead="""
limit up
limit down
door gate
  raised by up
  lowered by down
  travel 12 s to 20 s
end door
usage
  gate becomes raised for 5 min 4 times a day
end usage
""",
    ),
    Page(
        code="two-rests",
        title="A usage leaves one thing at rest in two ways",
        means="One line says that it becomes one value for a while, another line the other value.",
        why="Between two uses it has the value that no line gives it, and here there is none left.",
        example="""
contact door
usage
  door becomes open for 10 s 24 times a day
  door becomes shut for 8 h once a day
end usage
""",
        instead="""
contact door
usage
  door becomes open for 10 s 24 times a day
end usage
""",
    ),
)
