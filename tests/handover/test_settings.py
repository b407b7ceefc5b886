"""The schedule of settings: edges against what can be worked out by hand from the rules."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from verifier.handover.settings import Edge, Held, figures_of, schedule, words_of
from verifier.model import check
from verifier.proof import ProofOptions, prove_job
from verifier.source import SourceFile, Sources

BOATHOUSE = Path(__file__).resolve().parents[2] / "specs" / "boathouse"

JOB = """\
setting run_on 12 min
setting late 22:30
detector pir holds 10 s
dimmer light 20 W
button push
rule r "Light on the stair"
  retriggerable
  upon pir becomes occupied
  do
    light 50 %
    wait until pir has stayed vacant for run_on
    light off
end rule
rule free
  retriggerable
  upon push pressed
  upon at late
  do
    wait 3 s
end rule
require not_short "The stair goes dark when nobody has been there for 10 min, not sooner"
  before light becomes off: pir is vacant for at least 10 min
end require
require not_long "and for 15 min at most"
  while pir is vacant: no longer than 15 min: light is on
end require
require half "to half at most, since it comes on by itself"
  always: light at most 50 %
end require
require wrong "which does not hold"
  never: light is on
end require
"""


def edge(found: Edge | None) -> tuple[int, int | None, tuple[str, ...]]:
    """An edge as whole numbers: the last value that holds, the first that does not, and why."""
    assert found is not None
    beyond = None if found.beyond is None else int(found.beyond)
    return int(found.last), beyond, found.by


def held(sources: Sources, limit_s: float = 60) -> tuple[Held, ...]:
    job, told = check(sources, "job")
    assert job is not None, told
    options = ProofOptions(time_limit_s=20, workers=2, certificates=False, structure=False)
    judged = prove_job(job, job.requirements, options, lambda *_: None)
    verdicts = {requirement.name: verdict for requirement, verdict, _ in judged.verdicts}
    return schedule(sources, job, verdicts, limit_s, 2, lambda name: None)


@pytest.fixture(scope="module")
def stair() -> dict[str, Held]:
    found = held(Sources((SourceFile("job.dusk", JOB),)))
    return {
        each.figure.name or words_of(each.figure.kind, each.figure.value): each for each in found
    }


def test_every_figure_is_listed_with_its_place_and_where_it_is_read(stair: dict[str, Held]) -> None:
    assert list(stair) == ["run_on", "late", "50 %", "3 s"]
    run_on = stair["run_on"].figure
    assert JOB[run_on.span.start : run_on.span.end] == "12 min"
    assert [JOB[span.start : span.end] for span in run_on.used] == ["run_on"]
    assert [JOB[span.start : span.end] for span in stair["late"].figure.used] == ["late"]
    assert (stair["50 %"].figure.where, stair["run_on"].figure.where) == ("r", "")


def test_a_window_of_two_requirements_is_found_to_the_second(stair: dict[str, Held]) -> None:
    # egress 15 min and energy 20 min leave such a window in codes; here 10 to 15 min, by hand
    each = stair["run_on"]
    assert edge(each.low) == (600, 599, ("not_short",))
    assert edge(each.high) == (900, 901, ("not_long",))
    assert each.touches == ("not_short", "not_long", "half")


def test_a_level_has_its_edges_in_per_cent(stair: dict[str, Held]) -> None:
    each = stair["50 %"]
    assert edge(each.low) == (1, None, ())
    assert edge(each.high) == (50, 51, ("half",))


def test_clock_times_have_no_edges_and_what_nothing_reads_is_touched_by_nothing(
    stair: dict[str, Held],
) -> None:
    assert (stair["late"].low, stair["late"].high) == (None, None)
    assert stair["3 s"].touches == ()


def test_the_edges_of_the_boathouse() -> None:
    files = tuple(SourceFile(p.name, p.read_text()) for p in sorted(BOATHOUSE.glob("*.dusk")))
    found = {
        (each.figure.name or each.figure.where, each.figure.value): each
        for each in held(Sources(files))
    }
    # still at most 10 min, noticed within 2 s and 2 s allowed, from promises.dusk: 10 min less 2 s
    low = found["room_on", Fraction(900)].low
    assert edge(low) == (598, 597, ("nobody_dark",))
    door = found["door_time", Fraction(60)]
    assert edge(door.low) == (60, 59, ("porch_lit", "porch_full"))
    assert edge(door.high) == (60, 61, ("porch_off",))


def test_figures_of_typicals_are_found_once_where_they_stand() -> None:
    text = (
        "typical landing\n  setting stay 3 min\n  detector pir\n  lamp light\n  rule on\n    retriggerable\n"
        "    upon pir becomes occupied\n    do\n      light on\n      wait stay\n      light off\n"
        "  end rule\nend typical\napply landing to floor_1, floor_2\n"
    )
    (figure,) = figures_of(Sources((SourceFile("job.dusk", text),)))
    assert (figure.name, int(figure.value)) == ("stay", 180)
    assert [text[span.start : span.end] for span in figure.used] == ["stay"]


def test_a_search_without_time_is_not_sure_of_the_edge_that_it_had_to_leave_open() -> None:
    from verifier.handover.settings import _Search

    sources = Sources((SourceFile("job.dusk", JOB),))
    job, _ = check(sources, "job")
    assert job is not None
    figure = figures_of(sources)[0]
    high = _Search(sources, job, figure, ("not_long",), 0.0).held().high
    assert high is not None
    assert high.unsure
    assert high.beyond is not None
    assert 720 < high.last < 901 <= high.beyond
