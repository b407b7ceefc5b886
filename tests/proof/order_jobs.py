"""Small jobs in which the order of two handlers in one instant matters, each for another reason.

Every claim fails, in the order that is not the declared one; with that order lost it would be proved.
"""

from __future__ import annotations

HEAD = """
contact gate "Gate" starts shut
button push "Push-button"
lamp light "Light" 10 W
lamp sign "Sign" 10 W
lamp bell "Bell" 10 W
flag seen "Seen"
"""

NEVER = "require asked\n  never: sign is on\nend require\n"

ALWAYS = "require asked\n  when gate becomes open: sign is on within 1 s\nend require\n"

LIT_FIRST = """
rule come_in
  upon gate becomes open
  do
    light on
end rule
"""

SHOWN_FIRST = """
rule show
  upon gate becomes open provided light is off
  do
    sign on
end rule
"""

JOBS: dict[str, str] = {
    "a guard reads what the other sets": HEAD + LIT_FIRST + SHOWN_FIRST + NEVER,
    "a body reads what the other sets": HEAD
    + LIT_FIRST
    + """
rule show
  upon gate becomes open
  do
    if light is off then
      sign on
    end if
end rule
"""
    + NEVER,
    "both set the same": HEAD
    + """
rule on
  upon gate becomes open
  do
    sign on
end rule
rule off
  upon gate becomes open
  do
    sign off
end rule
"""
    + NEVER,
    "one cancels the other": HEAD
    + """
rule clear
  upon gate becomes open
  do
    cancel show
end rule
rule show
  non-retriggerable
  upon gate becomes open
  do
    sign on
    wait 1 s
    sign off
end rule
require asked
  no longer than 2 s: sign is on
end require
""",
    "one rule, triggered twice": HEAD
    + """
rule begin
  upon gate becomes open
  do
    light on
    bell on
end rule
rule look
  upon bell becomes on
  upon light becomes on provided seen is no
  do
    if seen is no then
      seen yes
    else
      sign on
    end if
end rule
"""
    + NEVER,
    "a rule that is set off by a point": HEAD
    + SHOWN_FIRST
    + """
rule ring
  upon gate becomes open
  do
    bell on
end rule
rule lit
  upon bell becomes on
  do
    light on
end rule
"""
    + ALWAYS,
    "a rule that is set off by a start": HEAD
    + SHOWN_FIRST
    + """
rule ring
  upon gate becomes open
  do
    bell on
end rule
rule lit
  upon ring starts
  do
    light on
end rule
"""
    + ALWAYS,
    "a run that waits for a condition": HEAD
    + SHOWN_FIRST
    + """
rule ring
  upon gate becomes open
  do
    bell on
end rule
rule lit
  non-retriggerable
  upon push pressed
  do
    wait until bell is on
    light on
end rule
"""
    + ALWAYS,
}
