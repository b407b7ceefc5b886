"""Rules in plain words. The wording is our own; what was expected was written by hand first.

Besides: whatever of a rule is another, its words are, too, and no figure and no name is left out.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from tests.explain.jobs import SPECS, job_of
from tests.random_jobs import random_job
from tests.random_more import with_fades
from verifier.explain.naming import named
from verifier.explain.plain_rules import plain_rule
from verifier.front.folder import read_folder
from verifier.model import check
from verifier.model.job import Cancel, Fade, If, Job, Policy, Put, Repeat, Rule, Statement, Wait
from verifier.model.words import duration

POINTS = """
contact side_door "Side door"
detector pir "PIR over the bench"
button push "Push-button"
lamp bay_lights "Bay lights"
dimmer strip "Bench strip"
flag locked "Everyone has left"
rule other "Another one"
  upon push pressed
  do
    bay_lights off
end rule
"""


def said(text: str) -> list[str]:
    job = job_of(f"{POINTS}\n{text}")
    return plain_rule(job.rules[-1], job).text.split("\n")


def test_a_rule_with_conditions_is_told_with_the_moment_at_which_they_are_read() -> None:
    assert said("""
rule light
  retriggerable
  upon side_door changes provided night
  upon pir becomes occupied
  provided locked is no
  do
    bay_lights on
    wait 1 min 30 s
    bay_lights off
end rule
""") == [
        "Whenever the side door opens or shuts, provided that it is night and the note “Everyone "
        "has left” says no.",
        "Also whenever the PIR over the bench starts to see somebody, provided that the note "
        "“Everyone has left” says no.",
        "1. It switches the bay lights on.",
        "2. It waits 1 min 30 s.",
        "3. It switches the bay lights off.",
        "Triggered again while it is at work, it drops what it is doing and begins anew with step 1.",
        "What has to be so for it to begin is looked at only at that moment: what changes later "
        "neither starts nor stops it.",
    ]


def test_steps_inside_steps_are_numbered_and_every_kind_of_step_is_told() -> None:
    assert said("""
rule all
  non-retriggerable
  upon push pressed
  do
    if side_door is open and pir is vacant then
      fade strip to 30 % over 10 s
    elsif night then
      strip 100 %
      end run
    else
      strip off
      cancel all
    end if
    repeat
      wait until side_door is shut, at most 5 s
      if timed out then
      end if
    until locked is yes
    end repeat
    locked no
    cancel other
end rule
""") == [
        "Whenever the push-button is pressed.",
        "1. If the side door is open and the PIR over the bench sees nobody:",
        "   1.1. It fades the bench strip evenly to 30 %, and takes 10 s for it.",
        "2. Otherwise, if it is night:",
        "   2.1. It sets the bench strip to 100 % (full light).",
        "   2.2. It ends here.",
        "3. Otherwise:",
        "   3.1. It switches the bench strip off.",
        "   3.2. It breaks itself off here, with all its runs; what they have switched stays as it is.",
        "4. Again and again, until at the end of a round the note “Everyone has left” says yes:",
        "   4.1. It waits until the side door is shut, but no longer than 5 s; if that is so already, "
        "it goes on at once.",
        "   4.2. If the last wait has timed out:",
        "      4.2.1. Nothing is done.",
        "5. It sets the note “Everyone has left” to no.",
        "6. It breaks off the rule “Another one”, if that is at work; what that has switched stays as "
        "it is.",
        "Triggered again while it is at work, it takes no notice and goes on.",
    ]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (
            "at once 2",
            "Up to 2 runs of it go on side by side; when all are at work, a further trigger is lost.",
        ),
        (
            "at once 2, oldest gives way",
            "Up to 2 runs of it go on side by side; when all are at work, a further trigger drops "
            "the oldest run and takes its place.",
        ),
        (
            "at once 1, waiting 1",
            "One run of it goes on at a time, and one further trigger waits its turn; when these "
            "places are taken, too, one more is lost.",
        ),
        (
            "at once 3, waiting 2, oldest gives way",
            "Up to 3 runs of it go on side by side, and up to 2 further triggers wait their turn; "
            "when these places are taken, too, the oldest run is dropped, the first that waits "
            "takes its place, and the new trigger waits last.",
        ),
    ],
)
def test_what_a_further_trigger_does_is_told_of_every_policy(words: str, expected: str) -> None:
    text = f"rule r\n{words}\nupon push pressed\ndo\nwait 1 s\nend rule\n"
    assert said(text)[-1] == expected


def test_a_rule_that_takes_no_time_is_never_found_at_work() -> None:
    lines = said("rule r\nupon push pressed\nprovided night\ndo\nlocked yes\nend rule\n")
    assert lines[2] == "All of it happens in one moment."
    assert not any("Triggered again" in line for line in lines)


def test_whose_turn_comes_later_is_looked_at_twice() -> None:
    guarded = "upon push pressed provided night\ndo\nwait 1 s\nend rule\n"
    lines = said(f"rule r\nat once 1, waiting 2\n{guarded}")
    assert "once more when its turn has come" in lines[-1]
    assert "once more" not in said(f"rule r\nretriggerable\n{guarded}")[-1]


def statements(body: tuple[Statement, ...]) -> list[Statement]:
    found: list[Statement] = []
    for each in body:
        found.append(each)
        match each:
            case If(branches, otherwise):
                for branch in branches:
                    found += statements(branch.body)
                found += statements(otherwise)
            case Repeat(inner, _):
                found += statements(inner)
            case _:
                pass
    return found


def check_whole(rule: Rule, job: Job) -> None:
    plain = plain_rule(rule, job)
    text = plain.text
    assert len(plain.begins) == len(rule.triggers)
    for statement in statements(rule.body):
        match statement:
            case Put(subject) | Fade(subject):
                assert named(job, subject).words in text
            case Wait(for_s):
                assert f"It waits {duration(for_s)}." in text
            case Cancel(other) if other != rule.name:
                assert named(job, other).words in text
            case _:
                pass
    numbers = [step.number for step in plain.steps]
    assert len(set(numbers)) == len(numbers)


def test_nothing_of_random_rules_is_left_out() -> None:
    for seed in range(150):
        job, _ = random_job(Random(seed), size=3)
        for rule in with_fades(Random(seed), job).rules:
            check_whole(rule, job)


def others(rule: Rule) -> list[Rule]:
    """The rule with one thing changed."""
    found = [
        replace(rule, policy=policy)
        for policy in (
            Policy(1, 0, True),
            Policy(1, 0, False),
            Policy(2, 0, True),
            Policy(2, 1, True),
        )
        if policy != rule.policy
    ]
    for place, statement in enumerate(rule.body):
        before, after = rule.body[:place], rule.body[place + 1 :]
        found.append(replace(rule, body=before + after))
        if isinstance(statement, Wait):
            longer = replace(statement, for_s=statement.for_s + Fraction(1, 1000))
            found.append(replace(rule, body=(*before, longer, *after)))
    if rule.provided is not None:
        found.append(replace(rule, provided=None))
    found += [
        replace(rule, triggers=rule.triggers[:place] + rule.triggers[place + 1 :])
        for place in range(len(rule.triggers))
    ]
    return found


def test_a_rule_that_is_changed_is_told_otherwise() -> None:
    for folder in ("boathouse", "boathouse-first-draft", "stair", "washroom", "dock", "path"):
        reading = read_folder(str(SPECS / folder))
        job, _ = check(reading.sources, folder)
        assert job is not None
        for rule in job.rules:
            text = plain_rule(rule, job).text
            lasting = "Triggered again" in text or "side by side" in text or "at a time" in text
            for other in others(rule):
                if lasting or other.policy == rule.policy:
                    assert plain_rule(other, job).text != text, (folder, rule.name)
