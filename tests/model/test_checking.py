"""The checked job: what the text comes to, and what is refused."""

from __future__ import annotations

from fractions import Fraction

import pytest

from verifier.diagnostics import Severity
from verifier.model import check, check_form
from verifier.model import job as j
from verifier.source import SourceFile, Sources

POINTS = """\
contact side_door "Side door"
limit up
limit down
detector pir holds 8 s rearm 3 s
button push
switch key wired normally closed
photocell cell
lamp bay_lights "Bay lights" 80 W
dimmer strip 2 x 20 W
load fan 25 W
flag armed
setting run_on 2 min
setting low 30 %
setting late 22:30
door shutter
  raised by up
  lowered by down
  travel 12 s to 20 s
end door
room hall
  entered by side_door, shutter
  seen by pir
  still at most 10 min
end room
"""


def sources(*texts: str) -> Sources:
    return Sources(tuple(SourceFile(f"{n}.dusk", text) for n, text in enumerate(texts)))


def job_of(text: str) -> j.Job:
    found, told = check(sources(POINTS + text), "job")
    assert found is not None, told
    return found


def errors_of(text: str) -> list[str]:
    found, told = check(sources(POINTS + text), "job")
    errors = [each.code for each in told if each.severity is Severity.ERROR]
    assert (found is None) == bool(errors)
    return errors


def rule(
    body: str = "bay_lights on", head: str = "retriggerable\n upon side_door becomes open"
) -> str:
    return f"rule a\n {head}\n do\n {body}\nend rule\n"


def body_of(text: str) -> tuple[j.Statement, ...]:
    return job_of(rule(text)).rules[0].body


# ---------------------------------------------------------------- figures, exactly


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("250 ms", Fraction(1, 4)),
        ("5 s", Fraction(5)),
        ("2 min", Fraction(120)),
        ("1 h", Fraction(3600)),
        ("1 min 30 s", Fraction(90)),
        ("0.1 s", Fraction(1, 10)),
        ("1 h 1 min 1 s 1 ms", Fraction(3661001, 1000)),
        ("run_on", Fraction(120)),
    ],
)
def test_durations_are_exact(text: str, seconds: Fraction) -> None:
    (wait,) = body_of(f"wait {text}")
    assert isinstance(wait, j.Wait)
    assert wait.for_s == seconds


@pytest.mark.parametrize(
    ("text", "percent"),
    [
        ("on", "100"),
        ("off", "0"),
        ("60 %", "60"),
        ("0.5 %", None),
        ("low", "30"),
        # Source: check values of the curve of IEC 62386-102, X(n) = 10^((n-1)/(253/3) - 1) per cent
        ("level 126 of 254", "3.035"),
        ("level 170 of 254", "10.09"),
        ("level 195 of 254", "19.97"),
        ("level 229 of 254", "50.53"),
        ("level 246 of 254", "80.38"),
        ("level 254 of 254", "100"),
        ("level 0 of 254", "0"),
        ("level 1 of 254", None),
        ("level 200 of 255", None),
    ],
)
def test_levels_are_exact_and_follow_the_dimming_curve(text: str, percent: str | None) -> None:
    if percent is None:
        assert len(errors_of(rule(f"strip {text}"))) == 1
        return
    (put,) = body_of(f"strip {text}")
    assert isinstance(put, j.Put)
    assert isinstance(put.value, Fraction)
    places = len(percent.partition(".")[2])
    assert round(put.value, places) == Fraction(percent)


def test_powers_count_and_the_number_of_fittings_multiplies() -> None:
    point = job_of("").point
    assert [point[name].power_w for name in ("bay_lights", "strip", "pir")] == [80, 40, None]


# ---------------------------------------------------------------- points, doors, rooms


def test_options_of_points_come_over() -> None:
    point = job_of("").point
    assert (point["pir"].holds_s, point["pir"].rearm_s) == (Fraction(8), Fraction(3))
    assert point["key"].wired == "normally closed"
    assert point["side_door"].label == "Side door"
    assert point["bay_lights"].power_return == "off"


@pytest.mark.parametrize(
    "text",
    [
        "lamp l holds 5 s",
        "button b starts on",
        "button b wired normally open",
        "flag f wireless",
        "lamp l retained",
        "contact c 5 W",
        "detector d 5 W",
        "contact c with local switch",
        "detector d on power return on",
    ],
)
def test_an_option_of_another_kind_is_refused(text: str) -> None:
    assert errors_of(f"{text}\n") == ["option-misplaced"]


def test_noticed_within_is_still_at_most_where_it_is_left_out() -> None:
    """The contract: "left out: as `still at most`"."""
    assert (job_of("").rooms[0].still_s, job_of("").rooms[0].noticed_s) == (Fraction(600),) * 2


def door(options: str, up: str = "", down: str = "", motor: str = "") -> str:
    moving = " moving by m\n" if motor else ""
    return (
        f"limit a {up}\nlimit b {down}\n{f'switch m {motor}' if motor else ''}\n"
        f"door d\n raised by a\n lowered by b\n travel 1 s to 2 s\n{moving}{options}\nend door\n"
    )


@pytest.mark.parametrize(
    ("text", "fits"),
    [
        (door("starts raised", up="starts reached"), True),
        (door("starts raised", up="starts clear"), False),
        (door("starts raised", down="starts reached"), False),
        (door("", up="starts clear"), True),
        (door("", up="starts clear", down="starts clear"), False),
        (door("", up="starts reached", down="starts reached"), False),
        (door("starts anywhere", up="starts clear", down="starts clear"), True),
        (door("", motor="starts on"), False),
        (door("", motor="starts off"), True),
    ],
)
def test_the_starts_of_a_door_and_of_its_switches_can_be_true_together(
    text: str, fits: bool
) -> None:
    assert errors_of(text) == ([] if fits else ["start-contradiction"])


# ---------------------------------------------------------------- conditions


def guard_of(text: str) -> j.Condition | None:
    return job_of(rule(head=f"upon side_door becomes open\n provided {text}")).rules[0].provided


@pytest.mark.parametrize(
    ("text", "condition"),
    [
        ("strip is on", j.Level("strip", "above", Fraction(0))),
        ("strip is off", j.Level("strip", "at most", Fraction(0))),
        ("strip is 60 %", j.Level("strip", "equal", Fraction(60))),
        ("strip at least low", j.Level("strip", "at least", Fraction(30))),
        ("day", j.Not(j.Night())),
        ("armed is no", j.Is("armed", "no")),
        ("a is running", j.Running("a")),
        ("pir has stayed vacant for run_on", j.Stayed(j.Is("pir", "vacant"), Fraction(120))),
        ("between late and 06:00 on sat, sun", j.Between(81000, 21600, frozenset({5, 6}))),
    ],
)
def test_conditions_come_to_what_they_say(text: str, condition: j.Condition) -> None:
    assert guard_of(text) == condition


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("shutter is moving", "not-readable"),
        ("hall is peopled", "not-readable"),
        ("side_door is closed", "unknown-value"),
        ("push is pressed", "button-value"),
        ("run_on is on", "wrong-kind"),
        ("a is on", "wrong-kind"),
        ("bay_lights above 5 %", "wrong-kind"),
        ("strip above 5 s", "wrong-unit"),
        ("strip above run_on", "wrong-unit"),
        ("night implies day", "implies-in-rule"),
        ("timed out", "timed-out-outside"),
        ("between 06:00 and 06:00", "empty-stretch"),
        ("between 06:00 and 24:00", "bad-figure"),
        ("between 06:00 and 07:00 on holiday", "unknown-value"),
        ("side_dor is open", "unknown-name"),
    ],
)
def test_a_condition_that_cannot_be_read_in_a_rule_is_one_error(text: str, code: str) -> None:
    assert errors_of(rule(head=f"upon side_door becomes open\n provided {text}")) == [code]


def test_a_rule_that_reads_a_door_is_told_which_points_it_can_read() -> None:
    _, told = check(sources(POINTS + rule(head="upon shutter becomes moving")), "job")
    assert told[0].hint == "It can read `up` and `down`."


def test_near_names_are_shown_and_far_ones_are_not() -> None:
    _, near = check(sources(POINTS + rule("bay_light on")), "job")
    _, far = check(sources(POINTS + rule("zzz on")), "job")
    assert near[0].hint == "Did you mean `bay_lights`?"
    assert "Did you mean" not in far[0].hint


# ---------------------------------------------------------------- rules, assumptions, faults, forms


@pytest.mark.parametrize(
    ("text", "policy"),
    [
        ("retriggerable", j.Policy(1, 0, True)),
        ("non-retriggerable", j.Policy(1, 0, False)),
        ("at once 3", j.Policy(3, 0, False)),
        ("at once 1, waiting 16", j.Policy(1, 16, False)),
        ("at once 2, waiting 3, oldest gives way", j.Policy(2, 3, True)),
        ("at once 2, oldest gives way", j.Policy(2, 0, True)),
    ],
)
def test_policies_come_to_what_they_say(text: str, policy: j.Policy) -> None:
    assert job_of(rule("wait 1 s", f"{text}\n upon push pressed")).rules[0].policy == policy


@pytest.mark.parametrize(
    "text", ["at once 0", "at once 17", "at once 1, waiting 17", "at once 1.5"]
)
def test_a_policy_out_of_range_is_refused(text: str) -> None:
    assert errors_of(rule("wait 1 s", f"{text}\n upon push pressed")) == ["out-of-range"]


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("assume always (bay_lights is on)", ["assumes-own"]),
        ("assume always (armed is yes)", ["assumes-own"]),
        ("assume strip stays on at least 5 s", ["assumes-own"]),
        ("assume shutter stays moving at most 30 s", []),
        ("assume hall stays peopled at most 8 h", []),
        ("assume push stays on at most 1 s", ["button-value"]),
        ("assume side_door stays open at most 0 s", ["out-of-range"]),
        ("consider lost reports of side_door", ["fault-impossible"]),
        ("consider broken wire of side_door", ["fault-impossible"]),
        ("consider broken wire of key", []),
        ("consider both limits of up reached", ["wrong-kind"]),
        ("consider both limits of shutter reached", []),
        ("consider bay_lights stuck", ["wrong-kind"]),
        ("consider bounce of side_door up to 5 ms", []),
        ("consider power cuts\nconsider power cuts", ["given-twice"]),
    ],
)
def test_assumptions_and_faults_name_what_the_surroundings_set(text: str, codes: list[str]) -> None:
    assert errors_of(f"{text}\n") == codes


def test_only_the_forms_named_by_the_contract_take_allowing() -> None:
    forms = {
        "always: side_door is open": True,
        "never: side_door is open": True,
        "when push pressed: side_door is open within 1 s": False,
        "when push pressed: side_door is open for at least 1 s": True,
        "after last push pressed: side_door is open within 1 s": False,
        "before push pressed: side_door is open for at least 1 s": True,
        "no longer than 1 s: side_door is open": True,
        "no shorter than 1 s: side_door is open": True,
        "at most 1 times in 1 s: push pressed": False,
        "possible: side_door is open": False,
        "measure longest: side_door is open after last push pressed": False,
    }
    for form, takes in forms.items():
        text = f"require r\n {form} allowing 2 s\nend require\n"
        assert errors_of(text) == ([] if takes else ["allowing-misplaced"]), form


def test_requirements_may_read_doors_rooms_and_rules() -> None:
    text = (
        rule()
        + "require r\n always: shutter is moving or hall is peopled or a is running\nend require\n"
    )
    (requirement,) = job_of(text).requirements
    assert isinstance(requirement.form, j.Always)
    assert list(j.atoms_and_leaves(requirement.form.condition)) == [
        j.Is("shutter", "moving"),
        j.Is("hall", "peopled"),
        j.Running("a"),
    ]


# ---------------------------------------------------------------- files, typicals, forms on their own


def test_a_job_is_all_its_files_in_any_order() -> None:
    one, two = POINTS, rule()
    forth, _ = check(sources(one, two), "job")
    back, _ = check(sources(two, one), "job")
    assert forth == back
    assert forth is not None


LANDING = """\
typical landing
  setting run_on 3 min
  detector pir
  lamp light "Landing light" 12 W
  rule walk
    retriggerable
    upon pir becomes occupied provided armed is yes
    do
      light on
      wait run_on
      light off
  end rule
  require out
    after last pir becomes occupied: light is off within run_on
  end require
end typical
"""


def test_a_typical_is_applied_with_names_of_its_own_and_reads_those_around_it() -> None:
    found = job_of(
        LANDING + "apply landing to floor_1, floor_2\napply landing to floor_3 with run_on 5 min\n"
    )
    assert [r.name for r in found.rules] == ["floor_1.walk", "floor_2.walk", "floor_3.walk"]
    assert [r.name for r in found.requirements] == ["floor_1.out", "floor_2.out", "floor_3.out"]
    first = found.rule["floor_1.walk"]
    assert first.triggers[0].event == j.Becomes(j.Is("floor_1.pir", "occupied"))
    assert first.triggers[0].guard == j.Is("armed", "yes")
    waits = [s.for_s for r in found.rules for s in r.body if isinstance(s, j.Wait)]
    assert waits == [180, 180, 300]
    asked, told, _ = check_form("never: floor_1.light is on", found)
    assert told == ()
    assert asked is not None


def test_typicals_may_apply_typicals() -> None:
    text = (
        LANDING
        + "typical house\n apply landing to ground\nend typical\napply house to east, west\n"
    )
    assert [r.name for r in job_of(text).rules] == ["east.ground.walk", "west.ground.walk"]


def test_a_mistake_in_a_typical_is_told_once_however_often_it_is_applied() -> None:
    text = LANDING.replace("light on", "lihgt on") + "apply landing to floor_1, floor_2\n"
    assert errors_of(text) == ["unknown-name"]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("apply landng to a", "unknown-name"),
        ("apply landing to a, a", "duplicate-name"),
        ("apply landing to a with run_no 5 min", "unknown-name"),
        ("apply landing to a with run_on 5 %", "wrong-unit"),
        ("apply landing to a.b", "dotted-name"),
    ],
)
def test_an_application_that_does_not_fit_is_refused(text: str, code: str) -> None:
    assert code in errors_of(f"{LANDING}{text}\n")


def test_a_form_on_its_own_is_checked_against_the_job() -> None:
    found = job_of(rule())
    asked, told, file = check_form(
        "while night: never: bay_lights is on allowing run_on", found, "asked"
    )
    assert told == ()
    assert asked is not None
    assert (asked.name, asked.scope, asked.allowing_s) == ("asked", j.Night(), Fraction(120))
    assert asked.span.file == file.name
    wrong, told, file = check_form("never: bay_light is on", found)
    assert wrong is None
    span = told[0].labels[0].span
    assert (told[0].code, file.text[span.start : span.end]) == ("unknown-name", "bay_light")


def test_a_form_on_its_own_that_goes_on_is_refused() -> None:
    wrong, told, _ = check_form("never: bay_lights is on end require", job_of(rule()))
    assert wrong is None
    assert len(told) == 1


def test_an_empty_form_is_refused() -> None:
    assert [each.code for each in check_form("", job_of(rule()))[1]] == ["syntax"]


# ---------------------------------------------------------------- the whole


@pytest.mark.parametrize(
    "text",
    [
        rule("if side_door is open then\n" * 38 + "end if\n" * 38),
        rule("repeat\nwait 1 s\n" * 38 + "until side_door is open\nend repeat\n" * 38),
        f"require r\nalways: {'(not ' * 55}night{')' * 55}\nend require\n",
        f"require r\nalways: {'night implies ' * 110} night\nend require\n",
        f"require r\nalways: {'(night or day and ' * 38} night{')' * 38}\nend require\n",
    ],
)
def test_what_is_nested_as_deeply_as_can_be_read_is_checked(text: str) -> None:
    assert errors_of(text) == []


def test_findings_are_in_the_order_of_the_text() -> None:
    _, told = check(sources("lamp a 5\nlamp b\n", rule("zz on\n yy on")), "job")
    places = [(each.labels[0].span.file, each.labels[0].span.start) for each in told]
    assert places == sorted(places)


def test_after_a_syntax_mistake_nothing_else_is_told() -> None:
    found, told = check(sources("lamp 5\n" + rule("zz on")), "job")
    assert found is None
    assert [each.code for each in told] == ["syntax"]


def test_a_job_of_no_files_is_an_error() -> None:
    assert [each.code for each in check(Sources(()), "job")[1]] == ["empty-job"]


def test_for_a_rule_that_is_not_there_only_rules_are_proposed() -> None:
    every = "require r\n  every trigger of bay_lightz leads to bay_lights is off\nend require\n"
    _, told = check(sources(POINTS + every), "job")
    assert [(each.message, each.hint) for each in told if each.code == "unknown-name"] == [
        ("there is no rule called bay_lightz", "Declare it, or write the name of one that is.")
    ]
    ruled = "rule bay_light_on\n  upon push pressed\n  do\n    bay_lights on\nend rule\n"
    _, told = check(sources(POINTS + ruled + every.replace("bay_lightz", "bay_light_onn")), "job")
    assert [each.hint for each in told if each.code == "unknown-name"] == [
        "Did you mean `bay_light_on`?"
    ]
