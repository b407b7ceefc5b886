"""Proposals: each is proved, says what it breaks, and applied in turn they bring a job to its promises."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.explain.jobs import draft, job_of, run_of, sources_of
from verifier import pipeline
from verifier.explain.edits import Edit, edited
from verifier.explain.explained import fails
from verifier.explain.mending import Limits, Mending, checked, edge_words, good, mends
from verifier.explain.playback import Played, case_on, play
from verifier.explain.remedies import Figure, remedies
from verifier.model.job import Always, And, Implies, Job
from verifier.proof.decide import decide
from verifier.proof.verdict import Verdict
from verifier.source import NOWHERE, Sources

QUICK = Limits(all_s=20, proof_s=5, wanted=3)

POINTS = """
contact gate starts shut
detector pir holds 3 s starts vacant
button push
lamp yard on power return last
lamp lane
"""

CASES = {
    "dusk in mid-run": (
        """rule light
  retriggerable
  upon gate becomes open provided night
  do
    yard on
    wait 1 min
    yard off
end rule
require kept
  always: night and gate is open implies yard is on
  allowing 10 min
end require
require seen
  when night begins: yard is on or gate is shut within 0 s
end require
""",
        "seen",
        "light is triggered when night begins meanwhile too: “upon night begins provided gate is open”",
    ),
    "power returns without the timer": (
        """consider power cuts
rule light
  retriggerable
  upon gate becomes open
  do
    yard on
    wait 1 min
    yard off
end rule
require dark
  after last gate becomes open or power returns: yard is off within 1 min
end require
""",
        "dark",
        "light is triggered when power returns too: “upon power returns provided yard is on”",
    ),
    "a fixed run": (
        """rule light
  non-retriggerable
  upon push pressed
  do
    yard on
    wait 1 min
    yard off
end rule
require full
  when push pressed: yard is on for at least 1 min
end require
""",
        "full",
        "light starts again with each trigger: retriggerable",
    ),
    "one rule's off ends another's light": (
        """rule one
  retriggerable
  upon push pressed
  do
    yard on
    wait 1 min
    yard off
end rule
rule other
  retriggerable
  upon gate becomes open
  do
    yard on
    wait 30 s
    yard off
end rule
require full
  when push pressed: yard is on for at least 1 min
end require
""",
        "full",
        "other does “yard off” only if one does not run",
    ),
    "a branch without its off": (
        """rule light
  retriggerable
  upon push pressed
  do
    yard on
    wait 1 min
    if gate is shut then
      yard off
    end if
end rule
require dark
  every trigger of light leads to yard is off
end require
""",
        "dark",
        "light does “yard off” where its condition is not so, too",
    ),
    "too short a wait": (
        """rule light
  retriggerable
  upon push pressed
  do
    yard on
    wait 40 s
    yard off
end rule
require full
  when push pressed: yard is on for at least 90 s
end require
""",
        "full",
        "light waits longer: 1 min 30 s instead of 40 s, the smallest figure that works "
        "(with 1 min 29 s it fails)",
    ),
    "too long a wait": (
        """setting lit 10 min
rule light
  non-retriggerable
  upon push pressed
  do
    yard on
    wait lit
    yard off
end rule
require short
  no longer than 4 min: yard is on
end require
""",
        "short",
        "light waits shorter: 4 min instead of 10 min, the largest figure that works "
        "(with 4 min 1 s it fails)",
    ),
    "an edge taken for a level": (
        """rule warn
  non-retriggerable
  upon gate becomes open
  do
    wait 10 min
    if gate is open then
      yard on
    end if
end rule
require late
  before yard becomes on: gate is open for at least 10 min
end require
""",
        "late",
        "warn starts again with each trigger: retriggerable",
    ),
    "timed from becoming occupied": (
        """rule light
  retriggerable
  upon pir becomes occupied
  do
    yard on
    wait 5 min
    yard off
end rule
require seen
  always: pir is occupied implies yard is on
end require
""",
        "seen",
        "light counts its 5 min from when pir is vacant",
    ),
    "on by day": (
        """rule light
  retriggerable
  upon push pressed
  do
    yard on
    wait 1 min
    yard off
end rule
require sparing
  when push pressed: night or yard is off within 0 s
end require
require never_by_day
  never: day and yard has stayed on for 2 min
end require
require starts_by_night
  before yard becomes on: night for at least 0 s
end require
""",
        "sparing",
        "",
    ),
    "dark without a warning": (
        """dimmer strip
rule light
  retriggerable
  upon push pressed
  do
    strip 100 %
    wait 1 min
    strip off
end rule
require warned
  before strip becomes off: strip at most 40 % for at least 15 s
end require
""",
        "warned",
        "light dims strip to 40 % for 15 s before it is off",
    ),
    "a photocell that flutters": (
        """photocell cell
rule on
  upon cell becomes dark
  do
    yard on
end rule
rule off
  upon cell becomes bright
  do
    yard off
end rule
require calm
  at most 2 times in 10 min: yard changes
end require
""",
        "calm",
        "on is triggered only when cell has stayed dark for 10 min + "
        "off is triggered only when cell has stayed bright for 10 min",
    ),
    "a wait without a limit": (
        """rule light
  retriggerable
  upon gate becomes open
  do
    yard on
    wait until gate is shut
    wait 2 min
    yard off
end rule
require ends
  after last gate changes: yard is off within 20 min
end require
""",
        "ends",
        "light waits no longer than 18 min, the largest figure that works (with 18 min 1 s it fails)",
    ),
    "an event that no rule hears": (
        """rule light
  retriggerable
  upon gate becomes open
  do
    yard on
    wait 2 min
    yard off
end rule
require heard
  when push pressed: yard is on within 1 s
end require
""",
        "heard",
        "light is triggered by push pressed too: “upon push pressed”",
    ),
}


def searched(text: str, name: str) -> tuple[Job, list[tuple[str, Sources]]]:
    sources, job = sources_of(POINTS + text), job_of(POINTS + text)
    verdict = decide(job, job.requirement[name])
    found = Mending(sources, job, name, QUICK).found(run_of(verdict))
    return job, [(" + ".join(a.words for a in applied), after) for applied, after in found]


@pytest.mark.parametrize("what", [w for w, case in CASES.items() if case[2]])
def test_the_usual_mistakes_have_their_usual_remedy(what: str) -> None:
    text, name, words = CASES[what]
    _, found = searched(text, name)
    assert words in [said for said, _ in found], [said for said, _ in found]


@pytest.mark.parametrize("what", list(CASES))
def test_every_proposal_is_proved_on_the_text_that_it_gives(what: str) -> None:
    text, name, _ = CASES[what]
    job, found = searched(text, name)
    for said, after in found:
        changed = checked(after, job)
        assert changed is not None, said
        assert good(decide(changed, changed.requirement[name])), said


def test_what_is_found_is_the_least_of_what_works() -> None:
    """With a second less the smallest figure fails, as is said."""
    text, name, words = CASES["too short a wait"]
    _, found = searched(text, name)
    after = dict(found)[words]
    assert "wait 1 min 30 s" in after.files[0].text
    less = job_of(after.files[0].text.replace("wait 1 min 30 s", "wait 1 min 29 s"))
    assert fails(decide(less, less.requirement[name]))


def test_a_figure_of_a_setting_is_changed_where_it_stands() -> None:
    text, name, words = CASES["too long a wait"]
    _, found = searched(text, name)
    assert "setting lit 4 min" in dict(found)[words].files[0].text


def verdicts_of(job: Job) -> dict[str, Verdict]:
    return {r.name: decide(job, r) for r in job.requirements}


BREAKS = (
    POINTS
    + """
rule light
  retriggerable
  upon push pressed
  do
    yard on
    wait 40 s
    yard off
end rule
require full
  when push pressed: yard is on for at least 90 s
end require
require short
  after last push pressed: yard is off within 1 min
end require
"""
)


def test_a_promise_that_a_proposal_would_break_is_named() -> None:
    job = job_of(BREAKS)
    found = mends(sources_of(BREAKS), job, verdicts_of(job), ("full",), QUICK, lambda _: None)
    assert found
    assert all(mend.mended == ("full",) and mend.broken == ("short",) for mend in found)


def test_the_diff_is_what_makes_the_one_text_the_other() -> None:
    job = job_of(BREAKS)
    found = mends(sources_of(BREAKS), job, verdicts_of(job), ("full",), QUICK, lambda _: None)
    first = found[0]
    gone = [line[1:] for line in first.diff if line.startswith("-") and not line.startswith("---")]
    come = [line[1:] for line in first.diff if line.startswith("+") and not line.startswith("+++")]
    before, after = BREAKS.split("\n"), first.after.files[0].text.split("\n")
    assert [line for line in before if line not in after] == gone
    assert [line for line in after if line not in before] == come


def test_nothing_is_proposed_where_nothing_fails() -> None:
    job = job_of(BREAKS)
    verdicts = verdicts_of(job)
    assert mends(sources_of(BREAKS), job, verdicts, ("short",), QUICK, lambda _: None) == ()


def test_edits_do_not_touch_what_is_around_them() -> None:
    from verifier.explain.edits import Lines

    sources = sources_of(BREAKS)
    job = job_of(BREAKS)
    wait = job.rules[0].body[1].span
    after = edited(sources, (Lines(sources).removed(wait),))
    assert after.files[0].text == BREAKS.replace("    wait 40 s\n", "")


def test_applied_in_turn_the_first_proposals_prove_the_first_draft_whole() -> None:
    """The boathouse's first draft: every promise fails or holds; each round mends the first that fails."""
    result = draft("boathouse")
    job, sources = result.job, result.sources
    assert job is not None
    limits = Limits(all_s=60, proof_s=2, workers=2, wanted=2)
    for _ in range(20):
        question = pipeline.Question(workers=2, years=job.years)
        result = pipeline.prove(sources, job.name, question, lambda *_: None)
        verdicts = {r.name: v for r, v, _ in result.verdicts}
        failing = tuple(n for n, v in verdicts.items() if fails(v))
        if not failing:
            break
        assert result.job is not None
        found = mends(sources, result.job, verdicts, failing[:1], limits, lambda _: None)
        assert found, failing[0]
        sources = found[0].after
    assert all(good(v) for v in verdicts.values()), failing


def test_a_figure_is_called_the_smallest_only_where_the_next_one_fails() -> None:
    figure = Figure(Fraction(60), True, lambda seconds: Edit(NOWHERE, str(seconds)))
    said = {
        (
            Fraction(90),
            Fraction(89),
            True,
        ): "the smallest figure that works (with 1 min 29 s it fails)",
        (Fraction(90), Fraction(80), True): "which works (with 1 min 20 s it fails; what lies "
        "between was not tried)",
        (Fraction(90), Fraction(89), False): "which works (with 1 min 29 s it was not proved)",
    }
    for (now, bad, is_bad), words in said.items():
        assert edge_words(figure, now, bad, is_bad) == words


GUARDED = """
contact gate starts shut
contact hatch starts shut
switch key starts off
lamp yard
rule come
  upon gate becomes open provided key is off or hatch is open
  do
    yard on
end rule
require quiet
  always: yard is on implies (hatch is open or key is on)
end require
"""


def test_a_guard_that_is_added_keeps_what_was_asked_before_in_parentheses() -> None:
    sources = sources_of(GUARDED)
    job = job_of(GUARDED)
    requirement = job.requirement["quiet"]
    case = case_on(job, requirement, run_of(decide(job, requirement)))
    played = play(job, requirement, case)
    assert isinstance(played, Played)
    guards = {
        trigger.guard
        for remedy in remedies(sources, job, requirement, played)
        if "asks for" in remedy.words
        for changed in [checked(edited(sources, remedy.edits), job)]
        if changed is not None
        for trigger in changed.rule["come"].triggers
    }
    old = job.rule["come"].triggers[0].guard
    form = requirement.form
    assert isinstance(form, Always)
    assert isinstance(form.condition, Implies)
    assert old is not None
    assert guards == {And((old, form.condition.right))}
