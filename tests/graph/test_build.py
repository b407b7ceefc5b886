"""The graphs and their drawings: counts by hand, a golden of each form, and computed checks."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given

from tests.check import ROOT
from tests.graph.jobs import jobs
from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.graph.branches import reachable_ways
from verifier.graph.build import (
    build_graph,
    drives,
    places_of,
    transitions_in,
    unreachable_places,
)
from verifier.graph.dead import dead_parts, numbered_ways
from verifier.graph.findings import findings
from verifier.graph.render import render_dot, render_mermaid, render_text, transition_words
from verifier.graph.values import structure_of
from verifier.model import check
from verifier.model.job import Job
from verifier.source import SourceFile, Sources

LANDING = """\
detector pir "Landing detector"
button push "Push-button"
contact gate "Gate"
lamp light "Landing light"
flag armed "Armed"
rule walk "Walk through"
  retriggerable
  upon pir becomes occupied
  upon push pressed provided gate is open or night
  do
    light on
    if night then
      wait 3 min
    else
      wait until gate is shut, at most 30 s
      if timed out then
        end run
        wait 5 s
      end if
    end if
    light off
end rule
rule arm
  upon push pressed
  do
    repeat
      armed yes
    until gate is open
    end repeat
end rule
"""

TEXT = """\
rule walk (retriggerable)
  idle
     pir becomes occupied [night] / light on → #1
     pir becomes occupied [day and gate is shut] / light on, light off → idle
     pir becomes occupied [day and not gate is shut] / light on → #2
     push pressed [(gate is open or night) and night] / light on → #1
     push pressed [(gate is open or night) and day] / light on → #2
  #1  wait 3 min
     after 3 min / light off → idle
  #2  wait until gate is shut, at most 30 s
     gate is shut / light off → idle
     timed out after 30 s → idle (end run)
  #3  wait 5 s   (never reached)
     after 5 s / light off → idle (never, as nothing leads to its place)

rule arm (non-retriggerable)
  idle
     push pressed [gate is open] / armed yes → idle
     push pressed [not gate is open] / armed yes, armed yes → endless (endless candidate)
  endless  goes round for ever
"""


def job_of(text: str) -> Job:
    found, mistakes = check(Sources((SourceFile("job.dusk", text),)), "landing")
    assert found is not None, mistakes
    return found


def spec(name: str) -> Job:
    files = sorted((ROOT / "specs" / name).glob("*.dusk"))
    sources = Sources(tuple(SourceFile(p.name, p.read_text(encoding="utf-8")) for p in files))
    found, mistakes = check(sources, name)
    assert found is not None, mistakes
    return found


# ---------------------------------------------------------------- counts


def test_the_landing_has_six_places_and_eleven_ways_and_one_that_never_rests() -> None:
    # By hand: walk is idle or at one of three rests; 3 + 2 ways from idle (the gate open or
    # night, by day, so the gate is open), 1 + 2 + 1 from the rests. arm: idle; 2 ways.
    graph = build_graph(job_of(LANDING))
    assert len([place for place in places_of(graph) if place.number >= 0]) == 5
    assert len(graph.nodes) == 6
    assert len(graph.edges) == 11


@pytest.mark.parametrize(
    ("name", "rules", "rests", "ways"),
    [
        ("washroom", 4, 4, 8),  # each rule: on, one wait, off
        # From idle 4 + 3 + 3 + 3 + 1 + 1 + 1 + 1 + 1, from the rests 2 + 1 + 3 + 1 + 1 + 3 + 1
        ("boathouse", 9, 11, 30),
    ],
)
def test_the_specs_have_as_many_places_and_ways_as_counted_by_hand(
    name: str, rules: int, rests: int, ways: int
) -> None:
    graph = build_graph(spec(name))
    assert len(graph.nodes) == rules + rests
    assert len(graph.edges) == ways
    assert unreachable_places(graph) == ()


@given(jobs())
def test_each_rule_is_a_part_of_its_own(whole: Job) -> None:
    graph = build_graph(whole)
    assert all(source[0] == target[0] for source, target in graph.edges())
    assert {place.rule for place in places_of(graph)} == {rule.name for rule in whole.rules}
    for (source, target, key), way in zip(
        graph.edges(keys=True), (t for _, _, t in graph.edges(data="transition")), strict=True
    ):
        assert (way.rule, way.source) == source
        assert (way.rule, way.target) == target
        assert key >= 0


# ---------------------------------------------------------------- drawings


def test_the_text_of_the_landing() -> None:
    landing = job_of(LANDING)
    assert render_text(build_graph(landing), dead_parts(landing)) == TEXT


def test_ways_through_a_branch_that_a_proof_calls_dead_are_marked() -> None:
    whole = job_of(LANDING)
    at = LANDING.index("night then")
    branch = next(
        read.span
        for way in transitions_in(build_graph(whole))
        for read in way.reads
        if read.span.start == at
    )
    told = Diagnostic(
        "branch-never-reached", Severity.WARNING, "said by a proof", (Label(branch),), ""
    )
    graph, dead = build_graph(whole), dead_parts(whole, [told])
    lines = [line.strip() for line in render_text(graph, dead).splitlines()]
    marked = [line for line in lines if line.endswith("(never, as its branch is never reached)")]
    # The two ways into the branch; those past it go on.
    assert [line.split(" / ")[0] for line in marked] == [
        "pir becomes occupied [night]",
        "push pressed [(gate is open or night) and night]",
    ]
    # Behind the branch: its wait, and the way out of that. #3 and its way are dead by structure.
    assert "#1  wait 3 min   (never reached)" in lines
    assert render_dot(graph, dead).count("style=dashed") == 4
    assert render_dot(graph, dead).count('style="rounded,dashed"') == 2
    assert render_mermaid(graph, dead).count("-.->") == 4


def test_the_false_side_of_a_condition_that_is_always_true_is_marked() -> None:
    whole = job_of(LANDING)
    at = LANDING.index("night then")
    branch = next(
        read.span
        for way in transitions_in(build_graph(whole))
        for read in way.reads
        if read.span.start == at
    )
    told = Diagnostic("guard-always-true", Severity.NOTE, "by proof", (Label(branch),), "")
    dead = dead_parts(whole, [told])
    reasons = {number: reason for (rule, number), reason in dead.ways.items() if rule == "walk"}
    always = "its condition is always true here"
    # By their numbers in the text above: both ways of the detector by day, and of the button.
    assert {number for number, reason in reasons.items() if reason == always} == {1, 2, 4}
    assert ("walk", 2) in dead.places
    assert ("walk", 1) not in dead.places


DEAD = """\
detector pir "Detector"
flag armed "Never set"
lamp light "Light"
rule seen
  non-retriggerable
  upon pir becomes occupied
  upon armed becomes yes
  upon power returns
  do
    light on
    wait 1 min
    if armed is yes then
      wait 2 min
    end if
    wait until armed is yes, at most 5 s
    light off
end rule
rule idle_rule
  non-retriggerable
  upon armed becomes yes
  do
    light off
    wait 1 s
end rule
"""


def test_each_way_that_the_structure_rules_out_has_its_reason() -> None:
    whole = job_of(DEAD)
    graph, dead = build_graph(whole), dead_parts(whole, findings(whole))
    lines = [line.strip() for line in render_text(graph, dead).splitlines()]
    assert lines == [
        "rule seen (non-retriggerable)",
        "idle",
        "pir becomes occupied / light on → #1",
        "armed becomes yes / light on → #1 (never, as its event never happens)",
        "power returns / light on → #1 (never, as power cuts are not considered)",
        "#1  wait 1 min",
        "after 1 min [armed is yes] → #2 (never, as its branch is never reached)",
        "after 1 min [not armed is yes] → #3",
        "#2  wait 2 min   (never reached)",
        "after 2 min [armed is yes] / light off → idle "
        "(never, as what is waited for never comes true)",
        "after 2 min [not armed is yes] → #3 (never, as nothing leads to its place)",
        "#3  wait until armed is yes, at most 5 s",
        "armed is yes / light off → idle (never, as what is waited for never comes true)",
        "timed out after 5 s / light off → idle",
        "",
        "rule idle_rule (non-retriggerable)   (never fires)",
        "idle",
        "armed becomes yes / light off → #1 (never, as the rule never fires)",
        "#1  wait 1 s   (never reached)",
        "after 1 s → idle (never, as the rule never fires)",
    ]
    # Without the findings the same ways are dead; the reasons are less exact.
    assert list(dead_parts(whole).ways) == list(dead.ways)


@given(jobs())
def test_no_way_that_a_reachable_one_is_taken_for_is_dead(whole: Job) -> None:
    """What is marked, and what `reachable_ways` leaves, are all ways and share none."""
    structure, dead = structure_of(whole), dead_parts(whole)
    for rule in whole.rules:
        alive = rule.name in structure.alive
        live = [way for way in reachable_ways(whole, rule, structure) if alive]
        drawn = [way for name, way in numbered_ways(build_graph(whole)) if name[0] == rule.name]
        kept = [way for number, way in enumerate(drawn) if (rule.name, number) not in dead.ways]
        assert len(kept) >= len(live) or any(way.summarised for way in drawn)
        for way in kept:
            assert any((way.source, way.target, way.on) == (w.source, w.target, w.on) for w in live)


@given(jobs())
def test_every_form_draws_each_way_and_each_place_once(whole: Job) -> None:
    graph = build_graph(whole)
    ways, places = len(graph.edges), len(graph.nodes)
    dot, mermaid, text = render_dot(graph), render_mermaid(graph), render_text(graph)
    assert dot.count(" -> ") == ways
    assert len(re.findall(r'^    "[^"]*" \[label=', dot, re.MULTILINE)) == places
    assert len(re.findall(r"-->\||-\.->\|", mermaid)) == ways
    assert len(re.findall(r"^    r\d+_\w+(?:\(\[|\[)", mermaid, re.MULTILINE)) == places
    for way in transitions_in(graph):
        assert f"     {transition_words(way)}\n" in text


def test_dot_of_a_small_rule() -> None:
    small = "button push\nlamp light\nrule lit\n  upon push pressed\n  do\n    light on\nend rule\n"
    named = replace(job_of(small), name='the "old" \\ house')
    assert render_dot(build_graph(named)) == (
        'digraph "the \\"old\\" \\\\ house" {\n'
        "  rankdir=LR;\n"
        '  node [shape=box, style=rounded, fontname="sans-serif"];\n'
        '  edge [fontname="sans-serif", fontsize=10];\n'
        "  subgraph cluster_0 {\n"
        '    label="lit (non-retriggerable)";\n'
        '    "lit idle" [label="idle", shape=circle];\n'
        '    "lit idle" -> "lit idle" [label="push pressed\\n/ light on"];\n'
        "  }\n"
        "}\n"
    )


def test_mermaid_turns_what_it_would_read_as_its_own_into_entities() -> None:
    small = "button push\nlamp light\nrule lit\n  upon push pressed\n  do\n    light on\nend rule\n"
    whole = job_of(small)
    odd = 'a"<b>&#`'
    renamed = replace(whole, rules=(replace(whole.rules[0], name=odd),))
    assert render_mermaid(build_graph(renamed)) == (
        "flowchart LR\n"
        '  subgraph r0["a#quot;#lt;b#gt;#amp;#35;#96; (non-retriggerable)"]\n'
        '    r0_0(["idle"])\n'
        '    r0_0 -->|"push pressed<br/>/ light on"| r0_0\n'
        "  end\n"
    )


def test_a_job_without_rules_draws_as_nothing() -> None:
    empty = build_graph(job_of("lamp light\n"))
    assert render_text(empty) == ""
    assert render_mermaid(empty) == "flowchart LR\n"
    assert render_dot(empty).startswith('digraph "landing" {\n')


# ---------------------------------------------------------------- who drives what


def test_who_drives_what_in_the_landing() -> None:
    graph = drives(job_of(LANDING))
    found = {(source, target, how) for source, target, how in graph.edges(data="how")}
    assert found == {
        ("pir", "walk", "triggers"),
        ("push", "walk", "triggers"),
        ("gate", "walk", "guards"),
        ("the sun", "walk", "guards"),
        ("gate", "walk", "is read by"),
        ("the sun", "walk", "is read by"),
        ("walk", "light", "sets"),
        ("push", "arm", "triggers"),
        ("gate", "arm", "is read by"),
        ("arm", "armed", "sets"),
    }
    assert list(graph)[:7] == ["pir", "push", "gate", "light", "armed", "walk", "arm"]


def test_doors_and_rooms_drive_their_switches_and_detectors() -> None:
    graph = drives(spec("boathouse"))
    hows = {(source, target): how for source, target, how in graph.edges(data="how")}
    assert hows["shutter", "shutter_up"] == "sets"
    assert hows["lock_up", "fan_run"] == "cancels"
