"""The pages of what can be wrong with standard requirements and the lines that take them in."""

from __future__ import annotations

from verifier.diagnostics.codes import Page
from verifier.diagnostics.record import Severity

_BAY = """\
detector bay_pir "Bay"
lamp bay_light "Bay light" 80 W
"""

PAGES: tuple[Page, ...] = (
    Page(
        code="beyond-standard",
        severity=Severity.WARNING,
        title="A figure beyond what the standard requirement allows",
        means=(
            "A standard requirement names a longest or a shortest time, a highest or a least level. "
            "What it is given here is looser than that."
        ),
        why=(
            "The requirement is proved with your figure: it says less than the text that it is modelled "
            "on. The local code decides which figure is right."
        ),
        example=_BAY
        + """\
require bay_off as off_after_vacancy with light bay_light, detectors bay_pir, time 25 min
""",
        instead=_BAY
        + """\
require bay_off as off_after_vacancy with light bay_light, detectors bay_pir, time 15 min
""",
    ),
    Page(
        code="each-misplaced",
        title="`all of` or `any of` where one thing is meant, or the reverse",
        means=(
            "`all of` and `any of` go before a parameter of a standard requirement that takes several "
            "things, and such a parameter is never asked without one of them."
        ),
        why="Of several things it has to be said whether all of them are meant, or any.",
        example=_BAY
        + """\
require bay_off
  never: any of bay_light is on
end require
""",
        instead=_BAY
        + """\
require bay_off
  never: bay_light is on
end require
""",
    ),
    Page(
        code="fault-not-considered",
        severity=Severity.WARNING,
        title="A standard requirement about a fault that is not considered",
        means=(
            "The standard requirement says what is to hold when something fails. The job does not "
            "consider that it can fail."
        ),
        why="Without the fault the requirement is easily proved, and says nothing about it.",
        example="""\
lamp bay_light "Bay light" 80 W
require dark_again as level_after_power_return with light bay_light, stated off
""",
        instead="""\
lamp bay_light "Bay light" 80 W
consider power cuts
require dark_again as level_after_power_return with light bay_light, stated off
""",
    ),
    Page(
        code="no-parameter",
        title="A standard requirement and its parameters do not fit together",
        means=(
            "The form of a standard requirement speaks of its parameters and of nothing else, and uses "
            "each of them."
        ),
        why="A name in it would mean another thing in every job, or nothing.",
        example=_BAY
        + """\
standard dark "Dark"
  takes light lamp
  require
    never: bay_light is on
  end require
end standard
require bay_dark as dark with light bay_light
""",
        instead=_BAY
        + """\
standard dark "Dark"
  takes light lamp
  require
    never: light is on
  end require
end standard
require bay_dark as dark with light bay_light
""",
    ),
    Page(
        code="parameter-missing",
        title="A standard requirement is not told what it speaks of",
        means="A parameter that has no usual figure is left out.",
        why="`duskproof standard` shows what each one takes, and which figures may be left out.",
        example=_BAY
        + """\
require bay_off as off_after_vacancy with light bay_light
""",
        instead=_BAY
        + """\
require bay_off as off_after_vacancy with light bay_light, detectors bay_pir
""",
    ),
    Page(
        code="several-given",
        title="Several things where a standard requirement takes one",
        means="The parameter takes one thing; more than one is given, joined by `and`.",
        why="What holds of two lights together need not hold of each.",
        example=_BAY
        + """\
lamp desk_light "Desk"
require not_long as longest_on with light bay_light and desk_light, time 1 h
""",
        instead=_BAY
        + """\
lamp desk_light "Desk"
require bay_not_long as longest_on with light bay_light, time 1 h
require desk_not_long as longest_on with light desk_light, time 1 h
""",
    ),
    Page(
        code="standard-not-claimed",
        severity=Severity.WARNING,
        title="A standard requirement of the job that no line takes in",
        means="The job writes a standard requirement of its own and never takes it in.",
        why="Its form is not proved of anything, though it is written.",
        example=_BAY
        + """\
standard dark "Dark"
  takes light lamp
  require
    never: light is on
  end require
end standard
""",
        instead=_BAY
        + """\
standard dark "Dark"
  takes light lamp
  require
    never: light is on
  end require
end standard
require bay_dark as dark with light bay_light
""",
    ),
)
