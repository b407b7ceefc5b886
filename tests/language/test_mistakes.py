"""Syntax mistakes by example: each with its place, its code and what to write instead.

Which wordings people bring along: common practice in other notations, no source.
"""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from verifier.diagnostics import Diagnostic
from verifier.language import parse, parse_form
from verifier.language.parser import MISTAKE_LIMIT
from verifier.model import check
from verifier.source import SourceFile, Sources

POINTS = "contact x\nlamp bay_lights\nflag done\nbutton push\ndimmer strip\n"


def in_body(text: str) -> str:
    return f"{POINTS}rule a\n  non-retriggerable\n  upon push pressed\n  do\n    {text}\nend rule\n"


def in_head(text: str) -> str:
    return f"{POINTS}rule a\n  {text}\n  do\n    bay_lights on\nend rule\n"


def required(text: str) -> str:
    return f"{POINTS}require r\n  {text}\nend require\n"


def told(text: str) -> tuple[Diagnostic, ...]:
    return check(Sources((SourceFile("job.dusk", text),)), "job")[1]


# the whole text, what the label covers, the code, words of message or hint
MISTAKES: list[tuple[str, str, str, str]] = [
    (in_body("turn on bay_lights"), "turn on bay_lights", "wording", "Write `bay_lights on`."),
    (in_body("turn bay_lights off"), "turn bay_lights off", "wording", "Write `bay_lights off`."),
    (
        in_body("switch bay_lights off"),
        "switch bay_lights off",
        "wording",
        "Write `bay_lights off`.",
    ),
    (in_body("set bay_lights to on"), "set bay_lights to on", "wording", "Write `bay_lights on`."),
    (in_body("set strip to 50 %"), "set strip to 50 %", "wording", "Write `strip 50 %`."),
    (in_body("bay_lights = on"), "bay_lights = on", "wording", "Write `bay_lights on`."),
    (in_body("bay_lights := on"), "bay_lights := on", "wording", "Write `bay_lights on`."),
    (in_body("toggle bay_lights"), "toggle", "wording", "if LAMP is on then"),
    (in_body("delay 5 s"), "delay", "wording", "Write `wait DURATION`."),
    (in_body("wait for 60 s"), "wait for 60 s", "wording", "Write `wait 60 s`."),
    (in_body("wait 60"), "60", "unit-missing", "Write `60 s` or `60 min`."),
    (in_body("wait 60sec"), "60sec", "bad-figure", "Write `60 s`."),
    (in_body("wait 10 minutes"), "10 minutes", "bad-figure", "Write `10 min`."),
    (in_body("wait 1 H"), "1 H", "bad-figure", "is no unit"),
    (in_body("wait 5 parsecs"), "5 parsecs", "bad-figure", "`parsecs` is no unit"),
    (in_body("wait 1,5 s"), "1,5 s", "bad-figure", "Write `1.5`."),
    (in_body("wait 30 s 1 min"), "30 s 1 min", "bad-figure", "the larger unit first"),
    (in_body("wait 60 %"), "60 %", "wrong-unit", "a duration is wanted here"),
    (in_body("strip 200 %"), "200 %", "out-of-range", "between 0 % and 100 %"),
    (in_body("strip 60"), "60", "unit-missing", "Write `60 %`."),
    (in_body("strip 10 s"), "10 s", "wrong-unit", "a level is wanted here"),
    (in_body("wait until x is not open"), "is not", "wording", "Write `not x is open`."),
    (in_body("wait until x is open at most 5 s"), "at most 5 s", "wording", ", at most 5 s"),
    (in_body("wait until x is open, 5 s"), ", 5 s", "wording", ", at most 5 s"),
    (in_body("wait until x != open"), "!=", "wrong-operator", "Write `not x is open`."),
    (in_body("if x == open then\n    end if"), "==", "wrong-operator", "Write `x is open`."),
    (in_body("if x = open then\n    end if"), "=", "wrong-operator", "Write `x is open`."),
    (in_body("if x is open && x is shut then\n    end if"), "&&", "wrong-operator", "Write `and`."),
    (in_body("if x is open || x is shut then\n    end if"), "||", "wrong-operator", "Write `or`."),
    (in_body("if !x is open then\n    end if"), "!", "wrong-operator", "`not x is on`"),
    (in_body("if strip > 50 % then\n    end if"), ">", "wrong-operator", "`above`"),
    (
        in_body("if x is open\n      bay_lights on\n    end if"),
        "open",
        "missing-then",
        "Write `then`",
    ),
    (
        in_body("if x is open then\n    else if x is shut then\n    end if"),
        "else if",
        "wording",
        "Write `elsif`.",
    ),
    (
        in_body("if x is open then\n    elif x is shut then\n    end if"),
        "elif",
        "wording",
        "`elsif`",
    ),
    (in_body("bay_lights on\n    end"), "end", "missing-end", "Write `end rule`."),
    (in_body("bay_lights on\n    end if"), "end if", "missing-end", "Write `end rule`"),
    (
        in_body("repeat\n      wait 5 s\n    end repeat"),
        "end repeat",
        "missing-until",
        "Write `until",
    ),
    (in_body("bay_lights on;"), ";", "stray-character", "Delete it"),
    (in_body("if x is open {"), "{", "stray-character", "blocks end in words"),
    (in_body("fade strip 30 % over 10 s"), "30 %", "syntax", "Here can stand `to`."),
    (in_body("cancel"), "cancel", "syntax", "Here can stand a name."),
    (in_head("when push pressed"), "when", "not-upon", "Write `upon`"),
    (in_head("When push pressed"), "When", "not-upon", "Write `upon`"),
    (in_head("Upon push pressed"), "Upon", "capital-keyword", "Write `upon`."),
    (in_head("upon x is open"), "is", "state-as-event", "Write `upon x becomes open`."),
    (in_head("upon push pressed or x changes"), "or", "one-event-a-line", "second `upon`"),
    (in_head("upon push pressed\n  if x is open"), "if", "not-provided", "Write `provided"),
    (
        in_head("upon push pressed provided x becomes open"),
        "becomes",
        "event-as-state",
        "`x is open`",
    ),
    (
        f"{POINTS}rule a\n  upon push pressed\n  bay_lights on\nend rule\n",
        "bay_lights",
        "missing-do",
        "Write `do`",
    ),
    (
        f"{POINTS}rule a\n  upon push pressed\n  do\n  bay_lights on\n"
        "rule b\n  upon push pressed\n  do\nend rule\n",
        "rule",
        "missing-end",
        "Write `end rule` before it.",
    ),
    (f"{POINTS}rule a\n  upon push pressed\n  do\n", "do", "missing-end", "Write `end rule`."),
    (f"{POINTS}end rule\n", "end rule", "stray-end", "closes nothing"),
    (f"{POINTS}require r\n  never: x is open\nlamp y\n", "lamp", "missing-end", "`end require`"),
    (required("x is open"), "x", "no-form", "A form begins with `always:`"),
    (required("always x is open"), "always", "missing-colon", "Write `:`."),
    (required("when x changes: bay_lights is on"), "on", "missing-limit", "Write `within 5 s`"),
    (
        required("when x is open: bay_lights is on within 5 s"),
        "is",
        "state-as-event",
        "`x becomes open`",
    ),
    (required("always: x becomes open"), "becomes", "event-as-state", "Write `x is open`."),
    (required("never: x is open)"), ")", "syntax", "`)` cannot stand here"),
    (f"{POINTS}lmap bay\n", "lmap", "syntax", "Did you mean `lamp`?"),
    (f"{POINTS}Lamp bay\n", "Lamp", "capital-keyword", "Write `lamp`."),
    (f"{POINTS}lamp night\n", "night", "reserved-name", "begins a phrase"),
    (f'{POINTS}lamp "Bay"\n', '"Bay"', "missing-name", "the name is missing"),
    (f"{POINTS}lamp bay Bay lights\n", "Bay", "unquoted-label", 'Write "Bay lights" in quotation'),
    (f'{POINTS}lamp bay "Bay\n', '"Bay', "unclosed-label", 'Write the closing "'),
    (f"{POINTS}lamp bay “Bay”\n", "“", "curly-quotes", "straight"),
    (f"{POINTS}lamp bay 'Bay'\n", "'Bay'", "curly-quotes", "double quotation marks"),
    (f"{POINTS}lamp bay-lights\n", "bay-lights", "stray-character", "Write `bay_lights`."),
    (f"{POINTS}// note\n", "//", "stray-character", "A comment begins with `#`."),
    (f"{POINTS}lamp \u00e4\n", "\u00e4", "stray-character", "letters a to z"),
    (in_head("retrigerable"), "retrigerable", "wording", "Write `retriggerable`."),
    (in_head("nonretriggerable"), "nonretriggerable", "wording", "Write `non-retriggerable`."),
    (in_head("non retriggerable"), "non retriggerable", "wording", "Write `non-retriggerable`."),
    (in_head("non-retrigerable"), "non-retrigerable", "wording", "Write `non-retriggerable`."),
    (in_head("upon x opens"), "x opens", "wording", "Write `x becomes open`."),
    (in_head("upon x is closed"), "x is closed", "wording", "Write `x becomes shut`."),
    (in_head("upon strip turns on"), "strip turns on", "wording", "Write `strip becomes on`."),
    (in_head("upon x"), "x", "wording", "Write `x becomes VALUE`"),
    (in_head("upon 22:30"), "22:30", "wording", "Write `at 22:30`."),
    (in_head("at 22:30"), "at 22:30", "not-upon", "Write `upon at 22:30`."),
    (in_head("upon push pressed and x is open"), "and", "not-provided", "Write `provided`"),
    (in_head("upon push pressed if x is open"), "if", "not-provided", "Write `provided`"),
    (in_body("wait until x open"), "open", "wording", "Write `x is open`."),
    (in_body("if x then\n    end if"), "x", "wording", "Write `x is VALUE`."),
    (
        in_body("if x is open or shut then\n    end if"),
        "shut",
        "wording",
        "Write `x is open or x is shut`.",
    ),
    (
        in_body("if x is open then bay_lights on end if"),
        "end",
        "wording",
        "a statement ends with its line",
    ),
    (
        in_body("if x is open then bay_lights on else strip on\n    end if"),
        "else",
        "wording",
        "a statement ends with its line",
    ),
    (in_body("if x is open then\n      strip on\n    endif"), "endif", "wording", "`end if`"),
    (in_body("bay_lights is on"), "bay_lights is on", "wording", "Write `bay_lights on`."),
    (in_body("bay_lights becomes on"), "bay_lights becomes on", "wording", "`bay_lights on`"),
    (in_body("dim strip to 50 %"), "dim strip to 50 %", "wording", "Write `strip 50 %`."),
    (in_body("strip"), "strip", "syntax", "this line ends too early"),
    (required("always: x is open within 5 s"), "within", "wording", "leave it out"),
    (
        required("when x changes: bay_lights is on for 5 s"),
        "for",
        "wording",
        "Write `for at least 5 s`.",
    ),
    (
        f"{POINTS}typical t\n  lamp l\n  rule a\n    when push pressed\n    do\n      l on\n"
        "  end rule\nend typical\napply t to u\n",
        "when",
        "not-upon",
        "Write `upon`",
    ),
    (f"{POINTS}lamp y 80\n", "80", "unit-missing", "Write `80 W`."),
    (f"{POINTS}lamp y 80 w\n", "80 w", "bad-figure", "`w` is no unit"),
    (f"{POINTS}lamp 1st\n", "1st", "syntax", "A name is a letter"),
]


@pytest.mark.parametrize(
    ("text", "covered", "code", "words"), MISTAKES, ids=[f"{m[2]}-{m[1]}" for m in MISTAKES]
)
def test_a_mistake_is_told_with_its_place_and_what_to_write(
    text: str, covered: str, code: str, words: str
) -> None:
    first = told(text)[0]
    span = first.labels[0].span
    assert first.code == code
    assert text[span.start : span.end] == covered
    assert words in f"{first.message} {first.hint}"


@pytest.mark.parametrize(("text", "covered", "code", "words"), MISTAKES)
def test_a_mistake_is_told_alone(text: str, covered: str, code: str, words: str) -> None:
    """No flood: one slip, one error (warnings and notes aside)."""
    errors = [each for each in told(text) if each.severity.value == "error"]
    assert len(errors) == 1


def test_messages_stand_alone_on_one_line_and_hints_are_sentences() -> None:
    for text, *_ in MISTAKES:
        for each in told(text):
            assert "\n" not in each.message
            assert not each.message.endswith(".")
            assert each.hint.endswith((".", "?"))


FORMS: list[tuple[str, str, str]] = [
    ("bay_lights is on", "bay_lights", "no-form"),
    ("Never: x is open", "Never", "capital-keyword"),
    ("always: x is not open", "is not", "wording"),
    ("possible: x is open and", "and", "syntax"),
    ("never: x is open;", ";", "stray-character"),
    ("when x becomes open\nbay_lights is on within 1 s", "open", "missing-colon"),
    ("", "", "syntax"),
]


@pytest.mark.parametrize(("text", "covered", "code"), FORMS)
def test_a_mistake_in_a_form_that_stands_alone_is_told(text: str, covered: str, code: str) -> None:
    form, found = parse_form(SourceFile("--ask", text))
    assert form is None
    span = found[0].labels[0].span
    assert [(each.code, text[span.start : span.end]) for each in found] == [(code, covered)]


WORDS = sorted({word for text, *_ in MISTAKES for word in re.findall(r"\w+|[^\w\s]|\n", text)})


@settings(max_examples=300, deadline=None)
@given(st.lists(st.sampled_from(WORDS), max_size=40))
def test_any_row_of_words_is_read_or_told_within_its_text(words: list[str]) -> None:
    text = " ".join(words)
    file, found = parse(SourceFile("job.dusk", text))
    assert len(found) <= MISTAKE_LIMIT
    assert found or file.declarations or not text.split("#")[0].strip()
    for each in found:
        assert all(0 <= label.span.start <= label.span.end <= len(text) for label in each.labels)
        assert each.message
        assert each.hint


@settings(max_examples=300, deadline=None)
@given(st.sampled_from([text for text, *_ in MISTAKES]), st.data())
def test_a_word_taken_out_or_put_in_anywhere_is_read_or_told(
    text: str, data: st.DataObject
) -> None:
    parts = re.findall(r"\w+|\s+|[^\w\s]", text)
    place = data.draw(st.integers(0, len(parts) - 1))
    parts[place] = data.draw(st.sampled_from(["", *WORDS]))
    changed = "".join(parts)
    for each in parse(SourceFile("job.dusk", changed))[1]:
        span = each.labels[0].span
        assert 0 <= span.start <= span.end <= len(changed)
        assert "\n" not in each.message
