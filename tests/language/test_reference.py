"""The language reference: every example in it is read and checked, or yields the code that it names."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from verifier.diagnostics import Severity
from verifier.model import check
from verifier.source import SourceFile, Sources

PAGE = Path(__file__).resolve().parents[2] / "grammar" / "README.md"
BLOCK = re.compile(r"^```(dusk[a-z-]*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
YIELDS = re.compile(r"# yields: ([a-z-]+)\n")

AROUND = """\
contact side_door
limit shutter_up
limit shutter_down
button wall_push
switch key_switch
lamp bay_lights
dimmer bench_strip
load extractor
flag locked_up
door shutter
  raised by shutter_up
  lowered by shutter_down
  travel 12 s to 20 s
end door
rule other_rule
  upon wall_push pressed
  do
    bay_lights on
end rule
"""
MOTION = "detector bench_motion\n"


def whole(kind: str, text: str) -> str:
    """The job around an example."""
    motion = "" if "detector bench_motion" in text else MOTION
    match kind:
        case "dusk":
            return text
        case "dusk-points" | "dusk-rule" | "dusk-requirement":
            return f"{text}\n{AROUND}{motion}"
        case "dusk-body":
            head = "rule example\n  retriggerable\n  upon wall_push pressed\n  do\n"
            return f"{head}{text}end rule\n{AROUND}{motion}"
        case "dusk-form":
            return f"require example\n{text}end require\n{AROUND}{motion}"
        case _:
            raise AssertionError(f"no such kind of example: {kind}")


EXAMPLES = BLOCK.findall(PAGE.read_text(encoding="utf-8"))


@pytest.mark.parametrize(("kind", "text"), EXAMPLES)
def test_an_example_is_accepted_or_yields_the_code_that_it_names(kind: str, text: str) -> None:
    named = YIELDS.match(text)
    job, told = check(Sources((SourceFile("job.dusk", whole(kind, text)),)), "job")
    codes = [each.code for each in told]
    if named is not None:
        assert named.group(1) in codes
        return
    assert job is not None, told
    assert [each.code for each in told if each.severity is not Severity.NOTE] in ([], ["no-rules"])


def test_the_reference_has_examples_of_every_kind() -> None:
    kinds = {kind for kind, _ in EXAMPLES}
    assert kinds == {
        "dusk",
        "dusk-points",
        "dusk-rule",
        "dusk-body",
        "dusk-form",
        "dusk-requirement",
    }


def test_every_word_of_the_grammar_is_named_in_the_reference() -> None:
    from verifier.language.tables import tables

    words = set(re.findall(r"[a-z]+", PAGE.read_text(encoding="utf-8")))
    assert set(tables().keywords) - words == set()


def test_the_reserved_words_of_the_reference_are_those_of_the_language() -> None:
    from verifier.language.lexer import RESERVED

    listed = re.search(r"`(night day at between [a-z ]+)`", PAGE.read_text(encoding="utf-8"))
    assert listed is not None
    assert set(listed.group(1).split()) == RESERVED
