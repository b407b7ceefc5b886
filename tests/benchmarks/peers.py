"""The same questions put to general-purpose checkers: ``python -m tests.benchmarks.peers``.

Writes ``PEERS.md`` (:mod:`tests.benchmarks.peers_report`). Each answer comes from a process of its
own. A peer that is not installed is told with what installs it. A verdict that contradicts another
one ends the run with exit code 1, and nothing is written.

``--show`` prints the page and leaves the file as it is; ``--limit SECONDS`` is for a quicker look;
``--say TEXT`` adds a remark to what is said of the peers.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from math import nan
from pathlib import Path
from statistics import median

from tests.benchmarks.families import FAMILY, Family, timers_of
from tests.benchmarks.one import Measured
from tests.benchmarks.reading import job_of_folder
from tests.benchmarks.tick_model import NotInTicks, aiger, tick_model
from tests.benchmarks.zone_model import NotInZones, tchecker
from tests.outside import murphi
from tests.outside.murphi_model import NotExported
from verifier.graph.slice import slice_job
from verifier.model.job import Job, Requirement

ROOT = Path(__file__).resolve().parent.parent.parent
PAGE = Path(__file__).with_name("PEERS.md")
LIMIT_S = 60.0
TIMES = 5
SLOW_S = 5.0
"""What takes longer is measured once."""
TRIES = 3
MOST_MB = 3000

BRIEF = Family(
    "brief",
    "n timers of 1 s to n s on one lamp",
    lambda size, bound_s: timers_of([n + 1 for n in range(size)], bound_s),
    lambda size: size,
    (1, 2, 3, 4, 5, 6),
)
"""So few ticks that a search state by state has little to do."""


@dataclass(frozen=True, slots=True)
class Question:
    """A requirement of the job in a folder; ``group`` and ``size`` say where it stands in the page."""

    group: str
    size: str
    folder: Path
    requirement: str

    def read(self) -> tuple[Job, Requirement]:
        """The job and the requirement."""
        job = job_of_folder(self.folder)
        return job, job.requirement[self.requirement]


@dataclass(frozen=True, slots=True)
class Answer:
    """What a peer said: ``proved``, ``refuted``, or why it said neither.

    Units: ``seconds`` of the search, the median of several, NaN where it came to none; ``build_s``
    of what had to be built first.
    """

    verdict: str
    seconds: float = nan
    build_s: float = 0.0

    @property
    def is_verdict(self) -> bool:
        """Whether it answers the question."""
        return self.verdict in ("proved", "refuted")


OVER = "over"
"""The verdict of a peer whose time, or memory, was over."""


@dataclass(frozen=True, slots=True)
class Peer:
    """A checker: ``version`` is None where it is not there, ``install`` says what to do then.

    ``ask`` gets the question, an empty folder, and a limit in seconds.
    """

    name: str
    install: str
    version: Callable[[], str | None]
    ask: Callable[[Question, Path, float], Answer]


class Contradiction(Exception):
    """Two verdicts on one question; ``args[0]`` says which."""


# ---------------------------------------------------------------- running


class Over(Exception):
    """Time or memory was over."""


class Ended(Exception):
    """A signal ended the process: it broke down, or somebody else ended it. ``args[0]`` says which."""


def output_of(command: list[str], folder: Path, limit_s: float) -> tuple[str, float]:
    """What a command printed, and its wall-clock seconds; with all that it started it is ended in time.

    Raises: Over; Ended; RuntimeError where the command failed.
    """
    # Of memory bash tells in the exit code only: 127 and more is a command that was ended.
    limited = ["bash", "-c", f'ulimit -v {MOST_MB * 1024}; exec "$@"', "bash", *command]
    environment = {**os.environ, "TMPDIR": str(folder)}
    began = time.perf_counter()
    with subprocess.Popen(
        limited,
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    ) as process:
        try:
            output, _ = process.communicate(timeout=limit_s)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.communicate()
            raise Over from None
    seconds = time.perf_counter() - began
    if process.returncode and re.search("memory|bad_alloc|returncode: -", output, re.IGNORECASE):
        raise Over
    if process.returncode < 0:
        raise Ended(signal.Signals(-process.returncode).name)
    if process.returncode:
        raise RuntimeError(f"{' '.join(command)}: {output[-1000:]}")
    return output, seconds


def several(run: Callable[[], tuple[str, float]], build_s: float = 0.0) -> Answer:
    """The median of a few runs, of one if it is slow. Each gives a verdict and seconds.

    A run that a signal ends is begun again, ``TRIES`` times at most in all.
    """
    found: list[tuple[str, float]] = []
    ended = 0
    while len(found) < TIMES and (not found or found[0][1] < SLOW_S):
        try:
            found.append(run())
        except Over:
            return Answer(OVER, build_s=build_s)
        except Ended as reason:
            ended += 1
            if ended == TRIES:
                return Answer(f"ended by {reason.args[0]}", build_s=build_s)
    verdicts = {verdict for verdict, _ in found}
    if len(verdicts) > 1:
        raise Contradiction(f"one peer, several answers: {sorted(verdicts)}")
    return Answer(found[0][0], median(seconds for _, seconds in found), build_s)


# ---------------------------------------------------------------- the peers


def _measured(who: str, question: Question, folder: Path, limit_s: float) -> Answer:
    """As ``measure`` does: the time that the process tells, from the job's text to the verdict."""
    subject = [str(question.folder), question.requirement]
    command = [sys.executable, "-m", "tests.benchmarks.one", str(limit_s), who, *subject]

    def run() -> tuple[str, float]:
        output, _ = output_of(command, folder, limit_s + 10)
        found = Measured(**json.loads(output))
        if found.verdict == "undecided":
            raise Over
        return found.verdict, found.seconds

    return several(run)


def ask_duskproof(question: Question, folder: Path, limit_s: float) -> Answer:
    """The prover: slice, search, certificate checked by two solvers, whether it came into play."""
    return _measured("prover", question, folder, limit_s)


def ask_spacer(question: Question, folder: Path, limit_s: float) -> Answer:
    """Plain Spacer on the slice, a step for each trigger (``yardstick.py``)."""
    return _measured("sliced", question, folder, limit_s)


def ask_rumur(question: Question, folder: Path, limit_s: float) -> Answer:
    """Rumur on the slice as it is written in Murphi from the contract (``tests/outside``)."""
    job, requirement = question.read()
    try:
        text = murphi.murphi_text(slice_job(job, requirement), requirement)
    except NotExported as reason:
        return Answer(f"not written: {reason.args[0]}")
    (folder / "m.m").write_text(text, encoding="utf-8")
    options = ["--threads", "1", "--counterexample-trace", "off", "--deadlock-detection", "off",
               "--symmetry-reduction", "off"]  # fmt: skip
    source, program = str(folder / "m.c"), str(folder / "m")
    gcc = ["gcc", "-std=c11", "-O2", "-w", "-march=native", "-mcx16", "-o", program, source]
    build_s = 0.0
    for command in (
        ["rumur", *options, "--output", source, str(folder / "m.m")],
        [*gcc, "-lpthread", "-latomic"],
    ):
        try:
            build_s += output_of(command, folder, limit_s)[1]
        except Over:
            return Answer(OVER)

    def run() -> tuple[str, float]:
        began = time.perf_counter()
        # It ends with 1 where the claim fails.
        output, _ = output_of(["bash", "-c", f"{program} || true"], folder, limit_s)
        seconds = time.perf_counter() - began
        try:
            seen = murphi.read(output)
        except murphi.TooLarge:
            raise Over from None
        return "refuted" if seen.failed else "proved", seconds

    return several(run, build_s)


def abc_command() -> str | None:
    """What ABC is called here."""
    return next((name for name in ("berkeley-abc", "abc") if shutil.which(name)), None)


def ask_abc(question: Question, folder: Path, limit_s: float) -> Answer:
    """PDR of ABC on the model in ticks as gates and latches (``tick_model.py``)."""
    job, requirement = question.read()
    try:
        text = aiger(tick_model(job, requirement))
    except NotInTicks as reason:
        return Answer(f"not written: {reason.args[0]}")
    return by_abc(text, folder, limit_s)


def by_abc(text: bytes, folder: Path, limit_s: float) -> Answer:
    """What PDR says of a circuit, after ABC's usual reductions."""
    file = folder / "m.aig"
    file.write_bytes(text)
    name = abc_command()
    assert name is not None
    script = f"read_aiger {file}; scorr; dc2; pdr -T {limit_s:.0f}"

    def run() -> tuple[str, float]:
        output, seconds = output_of([name, "-c", script], folder, limit_s + 1)
        if "Property proved" in output:
            return "proved", seconds
        if "was asserted in frame" in output:
            return "refuted", seconds
        if "UNDECIDED" in output or "timeout" in output:
            raise Over
        raise RuntimeError(f"ABC: {output[-1000:]}")

    return several(run)


def ask_tchecker(question: Question, folder: Path, limit_s: float) -> Answer:
    """TChecker on a network of timed automata (``zone_model.py``); the time is that of its search."""
    job, requirement = question.read()
    try:
        text = tchecker(tick_model(job, requirement))
    except (NotInTicks, NotInZones) as reason:
        return Answer(f"not written: {reason.args[0]}")
    return by_tchecker(text, folder, limit_s)


def by_tchecker(text: str, folder: Path, limit_s: float) -> Answer:
    """What TChecker says of a network."""
    file = folder / "m.tck"
    file.write_text(text, encoding="ascii")
    command = [sys.executable, "-m", "tests.benchmarks.zone_model", str(file)]

    def run() -> tuple[str, float]:
        output, _ = output_of(command, folder, limit_s)
        verdict, seconds = output.split()
        return verdict, float(seconds)

    return several(run)


# ---------------------------------------------------------------- which are there


def _first_line(*command: str) -> str | None:
    if shutil.which(command[0]) is None:
        return None
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    lines = [line.strip() for line in (done.stdout + done.stderr).splitlines()]
    return next((line for line in lines if re.search(r"\d\.\d", line)), "version not told")


def _duskproof_version() -> str:
    from verifier import __version__

    return __version__


def _z3_version() -> str:
    import z3

    return f"z3 {z3.get_version_string()}"


def _rumur_version() -> str | None:
    found = _first_line("rumur", "--version") if murphi.is_there() else None
    return None if found is None else found.removeprefix("Rumur version ")


def _abc_version() -> str | None:
    name = abc_command()
    found = None if name is None else _first_line(name, "-c", "version")
    return None if found is None else found.split(", ")[-1]


def tchecker_version() -> str | None:
    """The version of TChecker's Python package; None where it is not there, or does not load."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        found = version("tcheckerpy")
    except PackageNotFoundError:
        return None
    network = "system:s\nevent:a\nprocess:P\nlocation:P:l{initial: : labels: failed}\n"
    with tempfile.TemporaryDirectory() as folder:
        try:
            answer = by_tchecker(network, Path(folder), 20.0)
        except RuntimeError:
            return None
    return f"tcheckerpy {found}" if answer.verdict == "refuted" else None


PEERS: tuple[Peer, ...] = (
    Peer("Duskproof", "pip install -e .", _duskproof_version, ask_duskproof),
    Peer("Spacer", "pip install z3-solver", _z3_version, ask_spacer),
    Peer("Rumur", "apt-get install rumur gcc libc6-dev", _rumur_version, ask_rumur),
    Peer("ABC", "apt-get install berkeley-abc", _abc_version, ask_abc),
    Peer(
        "TChecker",
        "pip install tcheckerpy (its library needs glibc 2.38 or later)",
        tchecker_version,
        ask_tchecker,
    ),
)


# ---------------------------------------------------------------- the questions

JOBS: tuple[tuple[Family, tuple[int, ...], tuple[int, ...]], ...] = (
    (FAMILY["timers"], tuple(range(1, 13)), (1, 2, 12)),
    (FAMILY["corridor"], (1, 2, 4, 8, 16, 32), (1, 32)),
    (BRIEF, BRIEF.sizes, (1, 6)),
    (FAMILY["polite"], (2, 4, 8), ()),
    (FAMILY["shutter"], (1, 2, 3), ()),
)
"""Families with the sizes of the jobs, and of the twins, which break their promise by a second."""

BOATHOUSE = ("moving_light", "nobody_dark", "fan_short", "blink_slow")


def questions(folder: Path) -> list[Question]:
    """All that is asked, in the order of the page; jobs are written into a folder."""
    found = []
    for family, sizes, twins in JOBS:
        for group, some, text_of in (
            (family.name, sizes, family.job),
            (f"{family.name}, twin", twins, family.twin),
        ):
            for size in some:
                here = folder / group / str(size)
                here.mkdir(parents=True)
                (here / "job.dusk").write_text(text_of(size), encoding="utf-8")
                found.append(Question(group, str(size), here, "promise"))
    boathouse = ROOT / "specs" / "boathouse"
    found += [Question("boathouse", name, boathouse, name) for name in BOATHOUSE]
    return found


def ask_all(
    asked: list[Question],
    peers: tuple[Peer, ...],
    limit_s: float,
    say: Callable[[str], None] = lambda text: None,
) -> list[tuple[Answer, ...]]:
    """For each question the answers, in the order of the peers.

    A peer whose time was over in a family is not asked about larger sizes.
    Raises: Contradiction.
    """
    found = []
    over: set[tuple[str, str]] = set()
    for question in asked:
        answers = []
        for peer in peers:
            if (question.group, peer.name) in over:
                answers.append(Answer("not tried"))
                continue
            with tempfile.TemporaryDirectory() as folder:
                answer = peer.ask(question, Path(folder), limit_s)
            if answer.verdict == OVER and question.group != "boathouse":
                over.add((question.group, peer.name))
            answers.append(answer)
            say(f"{question.group} {question.size}: {peer.name} {answer}")
        contradicting(question, peers, answers)
        found.append(tuple(answers))
    return found


def contradicting(question: Question, peers: tuple[Peer, ...], answers: list[Answer]) -> None:
    """Raises: Contradiction, where two peers give different verdicts."""
    told = [(p.name, a.verdict) for p, a in zip(peers, answers, strict=True) if a.is_verdict]
    if len({verdict for _, verdict in told}) > 1:
        words = ", ".join(f"{name}: {verdict}" for name, verdict in told)
        raise Contradiction(f"{question.group} {question.size}: {words}")


def main() -> int:
    """Asks, and writes or prints the page; 1 if two verdicts contradict each other."""
    from tests.benchmarks.peers_report import Page, page_of

    parser = argparse.ArgumentParser()
    parser.add_argument("--show", action="store_true")
    parser.add_argument("--limit", type=float, default=LIMIT_S)
    parser.add_argument("--say", action="append", default=[])
    given = parser.parse_args()
    versions = {peer.name: peer.version() for peer in PEERS}
    there = tuple(peer for peer in PEERS if versions[peer.name] is not None)
    with tempfile.TemporaryDirectory() as folder:
        asked = questions(Path(folder))
        try:
            answers = ask_all(
                asked, there, given.limit, lambda text: print(text, file=sys.stderr, flush=True)
            )
        except Contradiction as found:
            print(f"contradiction: {found.args[0]}", file=sys.stderr)
            return 1
    page = page_of(
        Page(PEERS, versions, there, tuple(asked), tuple(answers), given.limit, tuple(given.say))
    )
    if given.show:
        print(page)
    else:
        PAGE.write_text(page, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
