"""Small jobs for what random jobs have not: faults, fades, reaction time, states left out.

Each is as small as its feature allows; the texts of certificates are compared with the interpreter
on all of them.
"""

from __future__ import annotations

from verifier.simulate.system import Excluded

FEATURES = {
    "a room seen twice": """
contact door "Door"
detector near "Near" rearm 2 s
detector far "Far" holds 1 s
room hall "Hall"
  entered by door
  seen by near, far
  still at most 3 s
  noticed within 1 s
end room
assume always (far is occupied implies door is shut or hall is peopled)
assume door stays open at most 4 s
require seen
  no longer than 2 s: hall is peopled and near is vacant
end require
""",
    "reports of a contact": """
contact door "Door" wired normally open wireless
lamp light "Light" 10 W
consider lost reports of door
consider bounce of door up to 1 s
consider door stuck
consider broken wire of door
rule lit
  retriggerable
  upon door becomes open
  do
    light on
    wait 2 s
    light off
end rule
require told
  when door becomes open: light is on within 1 s
end require
""",
    "a press that bounces or is lost": """
button push "Push" wireless
lamp light "Light" 10 W
consider lost reports of push
consider bounce of push up to 1 s
consider push stuck
rule toggle
  upon push pressed
  do
    if light is on then
      light off
    else
      light on
    end if
end rule
require lit
  when push pressed: light is on within 1 s
end require
""",
    "limits of a door": """
limit up "Upper limit" wireless
limit down "Lower limit" wireless
lamp light "Light" 10 W
door gate
  raised by up
  lowered by down
  travel 2 s to 3 s
end door
consider both limits of gate reached
consider lost reports of up
consider lost reports of down
rule lit
  upon up becomes reached
  do
    light on
end rule
require told
  always: up is reached implies light is on
end require
""",
    "a fade": """
button push "Push"
dimmer hall "Hall" 10 W
rule dim
  non-retriggerable
  upon push pressed
  do
    fade hall to 80 % over 4 s
    fade hall to 20 % over 3 s
end rule
require dimmed
  no longer than 3 s: hall above 50 %
end require
""",
    "a fade that is broken off": """
button push "Push"
dimmer hall "Hall" 10 W
rule dim
  retriggerable
  upon push pressed
  do
    fade hall to 80 % over 4 s
    fade hall to 20 % over 3 s
end rule
require dimmed
  never: hall above 80 %
end require
""",
    "a controller that takes its time": """
site "Quay"
  reaction within 1 s
end site
contact door "Door"
button push "Push"
lamp light "Light" 10 W
rule lit
  at once 1, waiting 1
  upon door becomes open provided light is off
  upon push pressed provided door is open
  do
    light on
    wait until door is shut, at most 2 s
    light off
end rule
require told
  when push pressed: light is on within 1 s
end require
""",
    "a clock": """
contact door "Door"
lamp light "Light" 10 W
assume always (between 22:00 and 06:00 implies door is shut)
assume door stays open at most 30 min
rule lit
  non-retriggerable
  upon at 18:00
  upon at 22:30
  do
    light on
    wait 2 h
    light off
end rule
require told
  always: between 22:30 and 23:30 implies light is on
end require
""",
    "a clock on some days": """
button push "Push"
lamp light "Light" 10 W
rule lit
  non-retriggerable
  upon at 12:00 on mon, wed
  upon push pressed provided between 08:00 and 12:00 on sat
  do
    light on
    wait 6 h
    light off
end rule
require told
  no longer than 12 h: light is on
end require
""",
    "a cut": """
contact door "Door"
dimmer hall "Hall" 10 W with local switch on power return on
flag kept "Kept" retained
consider power cuts
rule lit
  non-retriggerable
  upon door has stayed open for 2 s
  upon power returns
  do
    hall 40 %
    kept yes
    wait 1 s
    hall off
end rule
require told
  always: door has stayed open for 2 s implies kept is yes
end require
""",
}

TOO_LARGE = ("a clock", "a clock on some days")
"""What has too many ticks for the exhaustive search."""

LEFT_OUT: dict[str, tuple[Excluded, ...]] = {
    "a room seen twice": (
        (("hall", 2), ("near has yet to notice hall", 2), ("far", 2)),
        (("near", 1), ("far has yet to notice hall", 1), ("door", 2)),
    ),
}
"""States that are left out, as cubes of (variable, mask): any will do to compare with."""
