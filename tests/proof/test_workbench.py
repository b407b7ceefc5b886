"""A job that is being edited: after each change the same result as from a first run, for less work."""

from __future__ import annotations

import os
from random import Random

import pytest

from tests.proof.test_cache import JOB
from verifier import workbench
from verifier.language import parser
from verifier.model import checking
from verifier.pipeline import Question, Result, prove
from verifier.proof import proving
from verifier.source import SourceFile, Sources
from verifier.workbench import Workbench

EDITS = (
    ("wait 60 s", "wait 61 s"),
    ("within 59 s", "within 61 s"),
    ("sign off\n", "sign off\n    light off\n"),
    ("retriggerable\n  upon push", "non-retriggerable\n  upon push"),
    ("upon pir becomes occupied", "upon pir becomes vacant"),
    ("light on\n", ""),
    ("lamp sign", "# A line that moves what follows.\nlamp sign"),
    ("require can_be\n  possible: light is on and sign is on\nend require\n", ""),
    ("light", "lantern"),
    ("end rule\nrule show", "end rool\nrule show"),
)


def fresh(text: str) -> Result:
    sources = Sources((SourceFile("job.dusk", text),))
    return prove(sources, "job", Question(), lambda *_: None)


def plain(result: Result) -> object:
    """A result without the seconds that it took."""
    verdicts = [(requirement, verdict) for requirement, verdict, _ in result.verdicts]
    return verdicts, result.findings, result.job, result.asked


def test_each_edit_comes_to_what_a_first_run_comes_to() -> None:
    rng = Random(7)
    bench = Workbench("job")
    for _ in range(12):
        text = JOB
        for old, new in rng.sample(EDITS, rng.randint(0, 3)):
            text = text.replace(old, new)
        bench.put([SourceFile("job.dusk", text)])
        assert plain(bench.judge()) == plain(fresh(text)), text


def test_an_edit_proves_only_what_it_changes(monkeypatch: pytest.MonkeyPatch) -> None:
    expected = plain(fresh(JOB))
    bench = Workbench("job")
    bench.put([SourceFile("job.dusk", JOB)])
    bench.judge()
    bench.put([SourceFile("job.dusk", JOB.replace("wait 30 s", "wait 31 s"))])
    second = bench.judge()
    # Of five, the sign's own two and the one that asks for both.
    assert second.effort is not None
    assert (second.effort.distinct, second.effort.reused) == (5, 2)
    bench.put([SourceFile("job.dusk", JOB)])

    def none(*_: object) -> None:
        raise AssertionError("nothing is left to prove")

    monkeypatch.setattr(proving.Answers, "_run", none)
    assert plain(bench.judge()) == expected


def test_only_files_that_changed_are_read_again(monkeypatch: pytest.MonkeyPatch) -> None:
    points, rest = JOB.split("rule walk", 1)
    files = [SourceFile("a.dusk", points), SourceFile("b.dusk", f"rule walk{rest}")]
    bench = Workbench("job")
    bench.put(files)
    bench.judge()
    read: list[str] = []

    def seen(file: SourceFile) -> object:
        read.append(file.name)
        return parser.parse(file)

    monkeypatch.setattr(checking, "parse", seen)
    bench.put([SourceFile("b.dusk", files[1].text.replace("30 s", "45 s"))])
    assert len(bench.judge().verdicts) == 5
    assert read == ["b.dusk"]
    bench.remove("b.dusk")
    assert [finding.code for finding in bench.judge().findings] == ["no-requirements"]
    assert read == ["b.dusk"]


def test_a_mistake_on_the_way_loses_nothing() -> None:
    bench = Workbench("job")
    bench.put([SourceFile("job.dusk", JOB)])
    bench.judge()
    bench.put([SourceFile("job.dusk", JOB.replace("end rule", "end rool", 1))])
    assert bench.judge().rejected
    bench.put([SourceFile("job.dusk", JOB)])
    again = bench.judge()
    assert again.effort is not None
    assert again.effort.reused == again.effort.distinct == 5


def workers_of(bench: Workbench) -> list[int]:
    """The processes of the workers that a bench keeps."""
    pool = bench._pool
    return [] if pool is None else [worker.process.pid for worker in pool._workers]


def test_workers_stay_from_one_edit_to_the_next_and_end_with_the_bench() -> None:
    with Workbench("job", Question(workers=2)) as bench:
        bench.put([SourceFile("job.dusk", JOB)])
        bench.judge()
        first = workers_of(bench)
        assert len(first) == 2
        bench.put([SourceFile("job.dusk", JOB.replace("wait 30 s", "wait 31 s"))])
        bench.judge()
        assert workers_of(bench) == first
        # Another number of them is another pool.
        bench.put([SourceFile("job.dusk", JOB.replace("wait 30 s", "wait 32 s"))])
        bench.judge(Question(workers=1))
        assert len(workers_of(bench)) == 1
        assert not set(workers_of(bench)) & set(first)
        last = workers_of(bench)
    assert workers_of(bench) == []
    for process in (*first, *last):
        with pytest.raises(ProcessLookupError):
            os.kill(process, 0)


def test_workers_begin_anew_after_many_edits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workbench, "EDITS_OF_A_WORKER", 2)
    seen: list[int] = []
    with Workbench("job") as bench:
        for seconds in range(31, 37):
            bench.put([SourceFile("job.dusk", JOB.replace("wait 30 s", f"wait {seconds} s"))])
            result = bench.judge()
            assert plain(result) == plain(fresh(JOB.replace("wait 30 s", f"wait {seconds} s")))
            seen += workers_of(bench)
    assert [seen.count(process) for process in dict.fromkeys(seen)] == [2, 2, 2]


def test_no_workers_are_kept_from_an_edit_that_was_broken_off(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def interrupted(*_: object) -> None:
        raise RuntimeError("the listener failed")

    with Workbench("job") as bench:
        bench.put([SourceFile("job.dusk", JOB)])
        with pytest.raises(RuntimeError, match="the listener failed"):
            bench.judge(on_verdict=interrupted)
        assert workers_of(bench) == []
        assert plain(bench.judge()) == plain(fresh(JOB))
