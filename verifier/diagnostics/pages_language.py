"""The pages of what can be wrong with the text."""

from __future__ import annotations

from verifier.diagnostics.codes import Page

PAGES: tuple[Page, ...] = (
    Page(
        code="bad-figure",
        title="A figure that cannot be read",
        means=(
            "The figure has a unit that is none, a decimal comma, or parts that do not belong "
            "together."
        ),
        why="A figure that is guessed at could be wrong by a factor of sixty.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  retriggerable
  upon side_door becomes open
  do
    wait 10 minutes
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  retriggerable
  upon side_door becomes open
  do
    wait 10 min
end rule
""",
    ),
    Page(
        code="capital-keyword",
        title="A word of the language in capitals",
        means="All words of the language are written in small letters.",
        why="Names tell capitals apart, so words have to as well.",
        example="""\
Lamp bay_lights
""",
        instead="""\
lamp bay_lights
""",
    ),
    Page(
        code="control-character",
        title="A character that is no text",
        means="The file holds a character that is invisible and means nothing, such as a null.",
        why="It often shows that the file was saved in another form than plain text.",
        example="lamp bay_lights\u0000\n",
        instead="""\
lamp bay_lights
""",
    ),
    Page(
        code="curly-quotes",
        title="A label between the wrong marks",
        means=(
            "Labels stand between two straight double marks. Word processors replace them by curly "
            "ones."
        ),
        why="The marks say where the label begins and ends.",
        example="""\
lamp bay_lights “Bay lights”
""",
        instead="""\
lamp bay_lights "Bay lights"
""",
    ),
    Page(
        code="event-as-state",
        title="An event where a condition stands",
        means="A condition asks what is so at a moment; `becomes` tells of a change.",
        why="A requirement or guard reads states; a change has no length.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
require lit
  always: side_door becomes open
end require
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
require lit
  always: side_door is open
end require
""",
    ),
    Page(
        code="file-too-large",
        title="A file that is too large",
        means="More text than is read of one file.",
        why="A job of this size is nearly always a wrong file.",
    ),
    Page(
        code="missing-colon",
        title="A colon is missing",
        means="A form ends its first words with a colon: `always:`, `no longer than 5 s:`.",
        why="The colon shows where the condition begins.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
require lit
  always bay_lights is on
end require
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
require lit
  always: bay_lights is on
end require
""",
    ),
    Page(
        code="missing-do",
        title="A rule without its `do`",
        means="`do` stands between the head of a rule (its events) and its body (its statements).",
        why="Before `do` nothing is done; after it nothing triggers.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
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
        code="missing-end",
        title="A block that is not closed",
        means="Each block says what ends: `end rule`, `end if`, `end require`.",
        why="Without its end everything behind would belong to the block.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    bay_lights on
  end
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
        code="missing-limit",
        title="A form without its time",
        means="`when` and `after last` claim something within or for a time.",
        why='"Some day" is no promise that can be kept or broken.',
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
require lit
  when side_door becomes open: bay_lights is on
end require
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
require lit
  when side_door becomes open: bay_lights is on within 1 s
end require
""",
    ),
    Page(
        code="missing-name",
        title="A name is missing",
        means="What is declared has a name, and then perhaps a label.",
        why="Rules and requirements speak of it by its name.",
        example="""\
lamp "Bay lights"
""",
        instead="""\
lamp bay_lights "Bay lights"
""",
    ),
    Page(
        code="missing-then",
        title="An `if` without its `then`",
        means="`then` ends the condition of an `if` or `elsif`.",
        why="It shows where the condition ends.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    if side_door is open
      bay_lights on
    end if
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    if side_door is open then
      bay_lights on
    end if
end rule
""",
    ),
    Page(
        code="missing-until",
        title="A `repeat` without its `until`",
        means="`repeat` runs its body, then reads the condition after `until`.",
        why="Without it the body would run for ever.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  retriggerable
  upon side_door becomes open
  do
    repeat
      wait 1 s
    end repeat
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  retriggerable
  upon side_door becomes open
  do
    repeat
      wait 1 s
    until side_door is shut
    end repeat
end rule
""",
    ),
    Page(
        code="no-form",
        title="A requirement without a form",
        means="A requirement is one of the twelve forms, such as `always:` or `when … within`.",
        why="A bare condition does not say when it is to hold.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
require lit
  bay_lights is on
end require
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
require lit
  always: bay_lights is on
end require
""",
    ),
    Page(
        code="not-provided",
        title="A guard under another word",
        means="In the head of a rule the guard stands after `provided`.",
        why=(
            "It is read once, when the trigger is handled; `if` and `while` would promise something "
            "else."
        ),
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  only if side_door is open
  do
    bay_lights on
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  provided side_door is open
  do
    bay_lights on
end rule
""",
    ),
    Page(
        code="not-upon",
        title="An event under another word",
        means="Events that trigger a rule stand after `upon`.",
        why="`when` begins a requirement; one word has one meaning.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  when side_door becomes open
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
        code="one-event-a-line",
        title="Several events on one line",
        means="Each `upon` line of a rule has one event; any line triggers the rule.",
        why="Each line can have its own guard.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open or side_door becomes shut
  do
    bay_lights on
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  upon side_door becomes shut
  do
    bay_lights on
end rule
""",
    ),
    Page(
        code="reserved-name",
        title="A name that begins a phrase",
        means="Some words can begin a phrase of the language and are never names.",
        why="Otherwise a line could be read in two ways.",
        example="""\
lamp night
""",
        instead="""\
lamp night_light
""",
    ),
    Page(
        code="state-as-event",
        title="A state where an event stands",
        means="An event is a change: `becomes`, `changes`, `pressed`.",
        why="A state lasts; it would trigger at every moment.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door is open
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
        code="stray-character",
        title="A character without meaning",
        means="Semicolons, braces, hyphens in names and other marks mean nothing.",
        why="The language has words for what such marks say elsewhere.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    bay_lights on;
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
        code="stray-end",
        title="An end that closes nothing",
        means="There is no open block of this kind.",
        why="Mostly an `end` too many, or a block closed too early.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
""",
    ),
    Page(
        code="syntax",
        title="A word stands where it cannot",
        means=(
            "The grammar has no use for this word at this place. The hint names what could stand "
            "there."
        ),
        why="What cannot be read cannot be proved; nothing of the job is judged until it can.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    fade bay_lights 30 % over 10 s
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
        code="too-deep",
        title="Nested too deeply",
        means="Parentheses, `not` or blocks inside one another beyond what is read.",
        why="Nobody could follow it.",
    ),
    Page(
        code="unclosed-label",
        title="A label that does not end",
        means="A label ends on the line on which it begins.",
        why="The rest of the line would vanish in it.",
        example="""\
lamp bay_lights "Bay lights
""",
        instead="""\
lamp bay_lights "Bay lights"
""",
    ),
    Page(
        code="unquoted-label",
        title="A label without quotation marks",
        means="After the name a label may stand, in straight quotation marks.",
        why="Words without marks are words of the language.",
        example="""\
lamp bay_lights Bay lights
""",
        instead="""\
lamp bay_lights "Bay lights"
""",
    ),
    Page(
        code="wording",
        title="A wording from elsewhere",
        means="The language says this in other words; the hint shows them.",
        why="One way to say a thing keeps rules easy to compare.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    turn on bay_lights
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
        code="wrong-operator",
        title="A sign where a word stands",
        means="Conditions are written in words: `is`, `and`, `or`, `not`, `above`, `below`.",
        why="Words can be read aloud to the person who ordered the lights.",
        example="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    if side_door == open then
      bay_lights on
    end if
end rule
""",
        instead="""\
contact side_door "Side door"
lamp bay_lights "Bay lights" 80 W
rule entry
  upon side_door becomes open
  do
    if side_door is open then
      bay_lights on
    end if
end rule
""",
    ),
)
