"""Requirements in plain words. The wording is our own (from memory of how such papers read).

What is checked against something else: that each figure and each name of the requirement is
said, and that a condition and its denial say opposite things of the same leaves.
"""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from itertools import product
from random import Random
from typing import Any

import pytest

from tests.explain.jobs import SPECS, job_of
from tests.random_jobs import random_job
from verifier.explain.naming import named
from verifier.explain.plain import plain, plain_condition, plain_denial, plain_event, read_back
from verifier.front.folder import read_folder
from verifier.model import check, check_form
from verifier.model.job import Job, Not, Requirement, atoms_and_leaves, read_by_requirement
from verifier.model.words import duration

JOB = job_of("""
contact side_door "Side door"
detector pir "PIR over the bench"
button push "Push-button"
switch key "Key switch: everyone has left"
photocell cell "Photocell"
limit up "Upper limit switch"
limit down "Lower limit switch"
lamp bay_lights "Bay lights"
lamp porch "At the door"
dimmer strip "Bench strip"
flag locked "Everyone has left"
lamp left "Landing light"
lamp right "Landing light"
lamp unnamed
door shutter "Roller shutter"
  raised by up
  lowered by down
  travel 12 s to 20 s
end door
room changing "Changing room"
  entered by side_door
end room
rule r "Bay lights by night"
  upon push pressed
  do
    bay_lights on
  end rule
""")


def form(text: str) -> Requirement:
    requirement, found, _ = check_form(text, JOB, "asked")
    assert requirement is not None, [f.message for f in found]
    return requirement


def said(text: str) -> str:
    return plain(form(text), JOB)


SENTENCES = {
    "always: bay_lights is on": "At every moment the bay lights are on.",
    "always: night and shutter is moving implies bay_lights is on": (
        "Whenever it is night and the roller shutter is moving, the bay lights are on."
    ),
    "never: day and bay_lights is on": "It is never so that it is day and the bay lights are on.",
    "when push pressed: bay_lights is on within 2 min": (
        "Every time the push-button is pressed, the bay lights are on no later than 2 min after that."
    ),
    "when push pressed: bay_lights is on within 0 s": (
        "Every time the push-button is pressed, the bay lights are on at once, in the same moment."
    ),
    "when side_door becomes open or push pressed: bay_lights is on for at least 1 min": (
        "Every time the side door opens or the push-button is pressed, the bay lights are on from "
        "that very moment on, for at least 1 min."
    ),
    "after last side_door changes or power returns: porch is off within 90 s": (
        "Whenever more than 1 min 30 s has passed since the last time that the side door opens or "
        "shuts or power returns after a cut (whichever of them it is), the light at the door is off."
    ),
    "before strip becomes off: strip at most 60 % for at least 20 s": (
        "Every time the bench strip goes off, it has been so just before, without a break for at "
        "least 20 s, that the bench strip is at 60 % or less (or off)."
    ),
    "no longer than 20 min: bay_lights is on": (
        "It is never so for longer than 20 min at a stretch that the bay lights are on."
    ),
    "no shorter than 1 s: strip is on": (
        "Each time it comes to be so that the bench strip is on (at any level), it stays so for at "
        "least 1 s."
    ),
    "at most 2 times in 3 s: bay_lights becomes on": (
        "In any 3 s, it happens at most 2 times that the bay lights come on."
    ),
    "every trigger of r leads to bay_lights is off": (
        "Every time the rule “Bay lights by night” was set going, and nothing outside changes any "
        "more from some moment on, it comes to be so in the end that the bay lights are off, and "
        "stays so."
    ),
    "possible: locked is yes": "It can happen that the note “Everyone has left” says yes.",
    "measure longest: strip below 50 % after last push pressed": (
        "It is asked how long after the last time that the push-button is pressed it can still be "
        "so that the bench strip is below 50 % (or off)."
    ),
    "while key is on: never: bay_lights is on": (
        "While “Key switch: everyone has left” is on: it is never so that the bay lights are on."
    ),
}


@pytest.mark.parametrize("text", list(SENTENCES))
def test_each_form_has_its_sentence(text: str) -> None:
    assert read_back(form(text), JOB).sentence == SENTENCES[text]


STRICT = [
    (
        "when push pressed: bay_lights is on within 2 min",
        "Exactly 2 min after it is still in time.",
    ),
    ("when push pressed: bay_lights is on within 2 min", "already, that is enough"),
    (
        "when push pressed: bay_lights is on for at least 1 min",
        "Once exactly 1 min is over it may end",
    ),
    ("when push pressed: bay_lights is on for at least 1 min", "Without a break, however short."),
    (
        "after last push pressed: bay_lights is off within 1 min",
        "Up to exactly 1 min after it may be",
    ),
    ("after last push pressed: bay_lights is off within 1 min", "before the first time nothing"),
    ("before push pressed: bay_lights is off for at least 1 min", "Exactly 1 min is enough."),
    ("before push pressed: bay_lights is off for at least 1 min", "not happen in the first 1 min"),
    ("no longer than 1 min: bay_lights is on", "Exactly 1 min is allowed."),
    ("no longer than 1 min: bay_lights is on", "at the start counts from the start"),
    ("no shorter than 1 min: bay_lights is on", "What is so at the start is not judged."),
    (
        "at most 1 times in 1 min: push pressed",
        "From the first of 2 to the last of them more than 1 min",
    ),
    ("always: bay_lights is on", "Not even a short exception is allowed."),
    ("always: bay_lights is on", "from the very start on"),
    ("always: bay_lights is on allowing 2 s", "if all of it lasts 2 s or less"),
    ("never: bay_lights is on allowing 2 s", "A time in which it is so does not count"),
    ("no longer than 9 s: bay_lights is on allowing 2 s", "A pause in between does not count"),
    (
        "while night: when push pressed: bay_lights is on within 2 s",
        "still due when it is over is dropped",
    ),
    ("while night: no shorter than 2 s: bay_lights is on", "that cuts is not judged"),
    (
        "while night: before push pressed: bay_lights is on for at least 2 s",
        "once that has lasted for 2 s",
    ),
    ("possible: bay_lights is on", "it is not promised that it happens"),
]


@pytest.mark.parametrize(("text", "exact"), STRICT)
def test_what_people_take_differently_is_spelt_out(text: str, exact: str) -> None:
    """Each is a sentence of the contract's table of forms, or of its paragraphs 7 and 14."""
    assert exact in said(text)


def test_with_an_exception_allowed_it_is_not_said_that_none_is() -> None:
    for text in ("always: bay_lights is on", "never: bay_lights is on"):
        assert "Not even" in said(text)
        assert "Not even" not in said(f"{text} allowing 2 s")
    held = "when push pressed: bay_lights is on for at least 1 min"
    assert "Without a break" in said(held)
    assert "Without a break" not in said(f"{held} allowing 2 s")


NAMES = {
    "bay_lights": "the bay lights",
    "pir": "the PIR over the bench",
    "key": "“Key switch: everyone has left”",
    "locked": "the note “Everyone has left”",
    "porch": "the light at the door",
    "left": "the landing light (left)",
    "unnamed": "unnamed",
    "changing": "the changing room",
    "r": "the rule “Bay lights by night”",
}


@pytest.mark.parametrize("name", list(NAMES))
def test_things_are_called_by_their_labels_where_that_tells_them_apart(name: str) -> None:
    assert named(JOB, name).words == NAMES[name]


def test_an_and_in_an_or_is_bracketed_and_so_is_an_or_in_an_and() -> None:
    """The three ways to read a, b, c without brackets are three different texts."""
    a, b, c = "key is on", "unnamed is on", "left is on"
    texts = [
        plain_condition(read_by_requirement(form(f"never: {text}"))[0][0], JOB)
        for text in (f"({a} and {b}) or {c}", f"{a} and ({b} or {c})", f"{a} and {b} and {c}")
    ]
    assert len(set(texts)) == 3
    assert texts[0].startswith("(“Key switch: everyone has left” is on and unnamed is on) or")
    assert "and (unnamed is on or the landing light (left) is on (or both))" in texts[1]


def test_each_value_of_each_kind_has_words_of_its_own_and_opposites_deny_each_other() -> None:
    for one, other in [
        ("side_door is open", "side_door is shut"),
        ("up is reached", "up is clear"),
        ("pir is occupied", "pir is vacant"),
        ("key is on", "key is off"),
        ("cell is dark", "cell is bright"),
        ("bay_lights is on", "bay_lights is off"),
        ("strip is on", "strip is off"),
        ("strip above 50 %", "strip at most 50 %"),
        ("strip below 50 %", "strip at least 50 %"),
        ("locked is yes", "locked is no"),
        ("changing is peopled", "changing is empty"),
        ("night", "day"),
    ]:
        (first, *_), _ = read_by_requirement(form(f"never: {one}"))
        (second, *_), _ = read_by_requirement(form(f"never: {other}"))
        assert (
            plain_denial(first, JOB) == plain_condition(second, JOB) != plain_condition(first, JOB)
        )
        assert plain_denial(second, JOB) == plain_condition(first, JOB)


def of_the_specs() -> list[tuple[str, Job]]:
    found = []
    for folder in sorted(SPECS.iterdir()):
        if any(folder.glob("*.dusk")) and folder.name != "standard":
            reading = read_folder(str(folder))
            job, _ = check(reading.sources, reading.name)
            if job is not None:
                found.append((folder.name, job))
    return found


@pytest.mark.parametrize("job", [job for _, job in of_the_specs()], ids=lambda job: job.name)
def test_every_figure_and_every_thing_of_a_requirement_is_said(job: Job) -> None:
    assert job.requirements
    for requirement in job.requirements:
        text = plain(requirement, job)
        assert figures_said(requirement, text), text
        conditions, events = read_by_requirement(requirement)
        for condition in conditions:
            for leaf in atoms_and_leaves(condition):
                subject = getattr(leaf, "subject", None)
                assert subject is None or named(job, subject).words in text
        assert all(plain_event(event, job) in text for event in events)
        # Well-made sentences: no name of the rules' text, no doubled blanks or full stops.
        assert "_" not in text
        assert not re.search(r"  |\.\.|\s\.|: :", text)


def figures_said(requirement: Requirement, text: str) -> bool:
    figures = [getattr(requirement.form, name, None) for name in ("within_s", "for_s", "most_s")]
    figures += [getattr(requirement.form, name, None) for name in ("least_s", "in_s")]
    figures.append(requirement.allowing_s)
    return all(duration(figure) in text for figure in figures if figure)


def test_two_requirements_that_differ_in_one_figure_or_word_read_differently() -> None:
    """On random requirements: what is another promise is another text."""
    seen: dict[str, Requirement] = {}
    for seed in range(400):
        job, requirement = random_job(Random(seed))
        text = plain(requirement, job)
        assert text[0].isupper() or text[0] == "“"
        assert text.endswith((".", ".)"))
        for changed in varied(requirement):
            assert plain(changed, job) != text, (requirement, changed)
        seen.setdefault(text, requirement)
    assert len(seen) > 300


def varied(requirement: Requirement) -> list[Requirement]:
    form: Any = requirement.form
    found = []
    for name, more in product(("within_s", "for_s", "most_s", "least_s", "in_s"), (1,)):
        figure = getattr(form, name, None)
        if figure is not None:
            changed = {name: figure + more}
            found.append(replace(requirement, form=replace(form, **changed)))
    condition = getattr(form, "condition", None)
    if condition is not None and not isinstance(condition, Not):
        found.append(replace(requirement, form=replace(form, condition=Not(condition))))
    if requirement.allowing_s:
        found.append(replace(requirement, allowing_s=requirement.allowing_s + Fraction(1, 2)))
    if requirement.scope is not None:
        found.append(replace(requirement, scope=Not(requirement.scope)))
    return found
