"""Results as JSON and as text, and the exit codes: the contract's "Machine-readable result"."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from tests.check import ROOT
from tests.front.made import BOUNDED, CASES, JOB, REFUTED, RUN, TEXT, requirement, result_of
from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.front.certificates import certificate_files
from verifier.front.outcome import Exit, exit_code
from verifier.front.paint import PLAIN, Paint
from verifier.front.reason import reason
from verifier.front.result_json import results_json
from verifier.front.result_text import result_text
from verifier.front.shown import columns
from verifier.model import job as j
from verifier.pipeline import Result
from verifier.proof.verdict import Undecided, WorkerEnded
from verifier.source import SourceFile, Sources, Span

WARNING = Diagnostic(
    "never-set", Severity.WARNING, "no rule sets it", (Label(Span("rules.dusk", 8, 17)),), "Set it."
)
ERROR = replace(WARNING, code="endless-chain", severity=Severity.ERROR)


def as_object(*results: Result) -> Any:
    return json.loads(results_json(results, strict=False))


def test_json_has_the_keys_of_the_contract_for_every_verdict() -> None:
    found = as_object(result_of(*CASES))
    assert found["tool"] == "duskproof"
    assert found["job"] == "boat"
    assert re.fullmatch(r"\d+\.\d+\.\d+", found["version"])
    keys = {
        *("name", "title", "verdict", "vacuous", "faults", "seconds", "method"),
        *("certificate", "bound_s", "counterexample", "witness"),
    }
    for entry in found["requirements"]:
        assert keys <= entry.keys()
        assert entry["faults"] == ["power cuts", "lost reports of side_door"]
        assert entry["certificate"] in (None, {"checked_by": ["z3", "cvc5"]})


def test_the_reference_names_every_key() -> None:
    text = (ROOT / "grammar" / "README.md").read_text(encoding="utf-8")
    told = set(re.findall(r"`(\w+)`", text[text.index("## The result for programs") :]))
    found = as_object(replace(result_of(*CASES), findings=(WARNING,)))
    run = next(e["counterexample"] for e in found["requirements"] if e["counterexample"])
    keys = {*found, *found["findings"][0], *run, *run["steps"][0]}
    for entry in found["requirements"]:
        keys |= entry.keys()
    assert keys - told == set()


def test_json_says_of_each_verdict_what_the_contract_says() -> None:
    found = {e["name"][2:]: e for e in as_object(result_of(*CASES))["requirements"]}
    said = {
        name: (e["verdict"], e["vacuous"], e["bound_s"], bool(e["counterexample"]), bool(e["witness"]))
        for name, e in found.items()
    }  # fmt: skip
    assert said == {
        "proved": ("proved", False, None, False, False),
        "vacuous": ("proved", True, None, False, False),
        "bounded": ("proved", False, "60", False, False),
        "witnessed": ("proved", False, None, False, True),
        "refuted": ("refuted", False, None, True, False),
        "impossible": ("refuted", False, None, False, False),
        "undecided": ("undecided", False, None, False, False),
        "measured": ("answered", False, "60.5", False, True),
        "unbounded": ("answered", False, "unbounded", False, True),
        "nothing": ("answered", True, None, False, False),
    }


def test_json_steps_give_the_infimum_what_changes_and_lines() -> None:
    steps = as_object(result_of("refuted"))["requirements"][0]["counterexample"]["steps"]
    assert steps[0] == {
        "at_s": "0",
        "just_after": False,
        "what": "side_door becomes open",
        "changes": {"bay_lights": "on", "light": "running"},
        "handled": {},
        "because": ["rules.dusk:5"],
    }
    assert TEXT.split("\n")[5 - 1].strip() == "upon side_door becomes open"
    assert (steps[2]["at_s"], steps[2]["just_after"]) == ("60", True)


def test_json_findings_have_code_severity_place_and_message() -> None:
    found = as_object(replace(result_of("proved"), findings=(WARNING,)))["findings"]
    assert len(found) == 1
    assert found[0]["where"] == "rules.dusk:1:9"
    assert (found[0]["code"], found[0]["severity"]) == ("never-set", "warning")
    assert found[0]["message"] == "no rule sets it"


def test_json_of_several_jobs_is_one_object_too() -> None:
    found = as_object(result_of("proved"), result_of("refuted"))
    assert [job["requirements"][0]["verdict"] for job in found["jobs"]] == ["proved", "refuted"]


def test_seconds_without_a_finite_decimal_stay_exact() -> None:
    name, verdict = "third", replace(BOUNDED, bound_s=Fraction(10, 3))
    result = replace(
        result_of(), verdicts=((requirement(name, CASES["bounded"][0].form), verdict, 1.0),)
    )
    assert as_object(result)["requirements"][0]["bound_s"] == "10/3"


@pytest.mark.parametrize(
    ("names", "findings", "strict", "code"),
    [
        (("proved", "vacuous", "measured", "unbounded", "nothing"), (), False, 0),
        (("proved",), (WARNING,), False, 0),
        (("proved",), (WARNING,), True, 1),
        (("proved", "refuted"), (), False, 1),
        (("impossible",), (), False, 1),
        (("undecided", "refuted"), (), False, 1),
        (("undecided", "proved"), (), False, 3),
        (("undecided",), (WARNING,), True, 1),
        (("proved",), (ERROR,), False, 2),
        (("refuted",), (ERROR, WARNING), True, 2),
        ((), (replace(WARNING, severity=Severity.NOTE),), True, 0),
    ],
)
def test_exit_codes_are_those_of_the_contract(
    names: tuple[str, ...], findings: tuple[Diagnostic, ...], strict: bool, code: int
) -> None:
    result = replace(result_of(*names), findings=findings)
    assert exit_code((result,), strict) == code
    assert f"exit code {code}" in result_text(result, strict, PLAIN, 100)


def test_of_several_jobs_the_exit_code_that_weighs_most_counts() -> None:
    rejected = replace(result_of(), findings=(ERROR,))
    stopped = replace(result_of("proved"), interrupted=True)
    in_order = (
        result_of("proved"),
        result_of("undecided"),
        result_of("refuted"),
        rejected,
        stopped,
    )
    codes = [exit_code(in_order[: n + 1], False) for n in range(5)]
    assert codes == [
        Exit.HOLDS,
        Exit.UNDECIDED,
        Exit.REFUTED,
        Exit.WRONG_INPUT,
        Exit.INTERRUPTED,
    ]


def test_text_tells_a_refuted_requirement_with_its_run() -> None:
    found = result_text(result_of("refuted"), False, PLAIN, 100)
    assert found.split("\n") == [
        "boat: 2 points, 1 rule, 1 requirement to judge",
        "Faults considered: power cuts and lost reports of side_door.",
        "",
        '✗ REFUTED  r_refuted  "About r_refuted"',
        "    Just after 1 min: side_door is open, and yet not: bay_lights is on.",
        "    Found by search; the run was replayed step by step.",
        "    rules.dusk:13:1",
        '       13 | require lit "Lit while the door is open"',
        "          | ^^^^^^^^^^^",
        "    It demands: always: side_door is open implies bay_lights is on",
        "",
        "    at the start: side_door shut, bay_lights off, night",
        "    when              what happens                    what changes                  because of",
        "    0 s               side_door becomes open          bay_lights on, light running  rules.dusk:5",
        "    1 min             the wait of light runs out      bay_lights off, light idle    rules.dusk:8",
        "    just after 1 min  side_door becomes shut          nothing",
        "    just after 1 min  here the requirement is broken",
        "",
        "1 requirement: 1 refuted.",
        "Something is refuted (exit code 1).",
        "`duskproof explain` tells why, `duskproof mend` how to put it right.",
        "",
    ]


def test_text_says_each_verdict_in_words_and_shapes() -> None:
    found = result_text(result_of(*CASES), False, PLAIN, 100)
    heads = [line for line in found.split("\n") if "About r_" in line]
    assert [head.split("  ")[0] for head in heads] == [
        "✓ PROVED",
        "○ PROVED, VACUOUS",
        "✓ PROVED",
        "✓ PROVED",
        "✗ REFUTED",
        "✗ REFUTED",
        "? UNDECIDED",
        "= ANSWERED",
        "= ANSWERED",
        "○ ANSWERED, VACUOUS",
    ]
    for words in (
        "checked by z3 and cvc5, each on its own",
        "never came into play: side_door never becomes open",
        "It takes at most 1 min.",
        "The longest time is 1 min 500 ms (60.5 s).",
        "The search went 14 happenings deep.",
        "10 requirements: 4 proved, 2 refuted, 1 undecided, 3 answered (2 of them vacuous).",
    ):
        assert words in found


def test_where_the_marks_cannot_be_written_ascii_stands_for_them() -> None:
    result = result_of("proved", "vacuous", "refuted")
    text = result_text(result, False, Paint(False, plain_marks=True), 100)
    assert re.findall(r"^(\S) [A-Z]", text, re.MULTILINE) == ["+", "o", "X"]


@pytest.mark.parametrize("width", [40, 60, 76, 100, 140])
def test_text_keeps_to_the_width_of_the_terminal(width: int) -> None:
    result = replace(result_of(*CASES), findings=(WARNING,))
    lines = result_text(result, False, PLAIN, width).split("\n")
    one_line_each = re.compile(
        "boat:|. (PROVED|ANSWERED|REFUTED|UNDECIDED)|rules.dusk:1:9: warning"
    )
    too_wide = [line for line in lines if columns(line) > width]
    assert [line for line in too_wide if not one_line_each.match(line)] == []


def test_colour_adds_nothing_but_colour() -> None:
    result = replace(result_of(*CASES), findings=(WARNING,))
    coloured = result_text(result, False, Paint(True), 100)
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == result_text(result, False, PLAIN, 100)


def test_no_escape_of_a_label_reaches_the_terminal() -> None:
    bad = replace(CASES["proved"][0], label="\x1b[2J\u202eevil")
    result = replace(result_of(), verdicts=((bad, CASES["proved"][1], 0.1),), asked=(bad,))
    assert "<U+001B>[2J<U+202E>evil" in result_text(result, False, PLAIN, 100)


def test_an_interrupted_result_says_what_is_missing() -> None:
    result = replace(
        result_of("proved"), asked=(CASES["proved"][0], CASES["refuted"][0]), interrupted=True
    )
    text = result_text(result, False, PLAIN, 100)
    assert "✓ PROVED" in text
    assert "Interrupted: 1 requirement not judged." in text
    assert as_object(result)["interrupted"] is True


DOOR = j.Is("side_door", "open")
OPENS = (j.Becomes(DOOR),)
MINUTE = Fraction(60)


@pytest.mark.parametrize(
    ("form", "words"),
    [
        (j.Always(DOOR), "Just after 1 min this is not so: side_door is open."),
        (j.Never(DOOR), "Just after 1 min this is so: side_door is open."),
        (j.WhenWithin(OPENS, DOOR, MINUTE), "did not come true within 1 min: side_door is open."),
        (j.WhenFor(OPENS, DOOR, MINUTE), "less than 1 min after side_door becomes open"),
        (j.AfterLast(OPENS, DOOR, MINUTE), "more than 1 min has passed since the last side_door"),
        (j.Before(OPENS, DOOR, MINUTE), "but before that, this had not been so for 1 min"),
        (j.NoLonger(MINUTE, DOOR), "has been so for longer than 1 min: side_door is open."),
        (j.NoShorter(MINUTE, DOOR), "ends after less than 1 min: side_door is open."),
        (j.AtMostTimes(3, MINUTE, OPENS), "for time number 4 within 1 min: side_door becomes open"),
        (j.LeadsTo("light", DOOR), "a state in which nothing more will happen"),
    ],
)
def test_each_form_has_its_sentence_when_it_is_refuted(form: j.Form, words: str) -> None:
    assert words in reason(requirement("r", form), REFUTED)


@pytest.mark.parametrize(
    "form", [j.Never(DOOR), j.Possible(DOOR), j.MeasureLongest(DOOR, OPENS), j.LeadsTo("r", DOOR)]
)
def test_undecided_says_how_deep_it_went_and_claims_no_more(form: j.Form) -> None:
    # A run of that very depth may have been found that could not be used.
    said = reason(requirement("r", form), Undecided(WorkerEnded("the time is up"), 1))
    assert said == "The time is up. The search went 1 happening deep."
    assert (
        reason(requirement("r", form), Undecided(WorkerEnded("the time is up"), 0))
        == "The time is up."
    )


def test_a_cycle_is_told_as_one() -> None:
    run = replace(RUN, cycle_from=1)
    wanted = requirement("r", j.LeadsTo("light", DOOR))
    verdict = replace(REFUTED, run=run)
    result = replace(result_of(), asked=(wanted,), verdicts=((wanted, verdict, 0.1),))
    text = result_text(result, False, PLAIN, 120)
    assert "go round for ever" in reason(wanted, verdict)
    assert "the wait of light runs out (again)" in text
    assert as_object(result)["requirements"][0]["counterexample"]["cycle_from"] == 1


def test_certificates_are_files_in_a_folder_for_each_requirement() -> None:
    files = dict(certificate_files((result_of("proved", "refuted", "undecided", "impossible"),)))
    assert sorted(files) == [
        "boat/r_impossible/01-initial.smt2",
        "boat/r_impossible/02-no-endless-chain.smt2",
        "boat/r_impossible/README.md",
        "boat/r_impossible/certificate.json",
        "boat/r_impossible/lemmas.txt",
        "boat/r_proved/01-initial.smt2",
        "boat/r_proved/02-no-endless-chain.smt2",
        "boat/r_proved/README.md",
        "boat/r_proved/certificate.json",
        "boat/r_proved/lemmas.txt",
    ]
    assert files["boat/r_proved/01-initial.smt2"] == "(check-sat)\n"
    assert "never: not bay_lights is on" in files["boat/r_proved/README.md"]


def test_two_jobs_of_one_name_do_not_write_over_each_other() -> None:
    files = certificate_files((result_of("proved"), result_of("proved")))
    assert len({name for name, _ in files}) == len(files) == 10


def test_no_name_of_a_requirement_leaves_the_folder() -> None:
    """A name with a path in it cannot be written in the language; a job's folder can have one."""
    files = certificate_files((replace(result_of("proved"), name=".."),))
    assert all(name.startswith("unnamed/") for name, _ in files)


def test_the_job_made_by_hand_is_the_one_of_its_text() -> None:
    """Guards the fixture: when the language reads the text, it is this job."""
    from verifier.model import check

    text = TEXT.replace("consider lost reports of side_door\n", "")
    read, findings = check(Sources((SourceFile("rules.dusk", text),)), "boat")
    assert read is not None, findings
    assert (read.points, read.rules, read.faults) == (JOB.points, JOB.rules, JOB.faults[:1])
