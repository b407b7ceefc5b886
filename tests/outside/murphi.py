"""Does a requirement hold of a job? Answered by a general-purpose explicit-state model checker.

The job is written in the Murphi language from the contract alone (``murphi_model``,
``murphi_world``, ``murphi_rules``, ``murphi_claims``), and the model checker Rumur searches all of
its states. Needs ``rumur`` and ``gcc`` (:data:`INSTALL`).
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Literal

from tests.outside.murphi_claims import Observer
from tests.outside.murphi_model import Mode, Model, Move, NotExported, all_of, any_of
from tests.outside.murphi_rules import STEPS, may_be_endless, write_rule_moves, write_rules
from tests.outside.murphi_world import write_happenings, write_world
from verifier.model.job import (
    AssumeAlways,
    AssumeStays,
    Job,
    LeadsTo,
    MeasureLongest,
    Possible,
    Requirement,
)

INSTALL = "apt-get install rumur gcc"
"""What to install where one of the two is not there."""

Verdict = Literal["proved", "refuted", "endless"]


class TooLarge(Exception):
    """The search did not end within its limits; ``args[0]`` says which."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What a search of all states came to.

    ``failed``: the observer failed; ``fewest``: in how few happenings (mode ``count``);
    ``reached``: the bound of a ``measure`` is reached; ``played``: the claim came into play.
    """

    failed: bool
    endless: bool
    blocked: bool
    reached: bool
    played: bool
    fewest: int | None


def is_there() -> bool:
    """Whether model checker and compiler are installed."""
    return shutil.which("rumur") is not None and shutil.which("gcc") is not None


# ---------------------------------------------------------------- the text


def murphi_text(
    job: Job,
    requirement: Requirement | None,
    mode: Mode = "stop",
    *,
    split: int = 2,
    happenings: int = 0,
    measure_s: Fraction | None = None,
) -> str:
    """The model of a job and a requirement. Raises: NotExported."""
    if mode == "world":
        job = Job(
            job.name,
            job.site,
            job.points,
            job.doors,
            job.rooms,
            (),
            job.assumptions,
            job.faults,
            (),
        )
        requirement = None
    model = Model(job, requirement, mode, split=split, happenings=happenings, measure_s=measure_s)
    model.variable("phase", "0..2", "2")
    for name in ("quiet", "armed", "dead"):
        model.variable(name, "boolean", "false")
    model.variable("ec", "0..8", "0")
    if mode == "all":
        model.variable("steps", f"0..{STEPS}", "0")
    if mode == "count":
        model.variable("hc", f"0..{happenings}", "0")
    if mode == "world":
        model.variable("ticked", "boolean", "false")
        model.properties.append('liveness "time goes on" ticked;')
    most = getattr(requirement.form, "times", 0) + 1 if requirement is not None else 1
    model.procedure("count()", [f"if ec < {most} then ec := ec + 1; end;"])
    write_world(model)
    unsettled = write_rules(model)
    write_instants(model, unsettled)
    write_happenings(model)
    write_rule_moves(model)
    return whole_text(model)


def write_instants(model: Model, unsettled: list[str]) -> None:
    """The beginning and end of an instant, the tick, and the observer in them."""
    mode = model.mode
    happen = []
    if mode == "count":
        happen.append("hc := hc + 1;")
    if mode == "world":
        happen.append("ticked := false;")
    model.procedure("happen()", happen)
    settle: list[str] = []
    tick: list[str] = []
    if model.requirement is not None:
        fails = {
            "stop": ['error "FAILED";'],
            "all": ['put "FAILED;"; dead := true;'],
            "count": [f"if hc = {k} then put \"FAILED {k};\"; end;" for k in range(model.happenings + 1)]
            + ["dead := true;"],
            "world": [],
        }[mode]  # fmt: skip
        model.procedure("violate()", fails)
        observer = Observer(model)
        observer.write()
        settle, tick = observer.settle, observer.tick
        if mode == "all":
            clear = " ".join(f"{name} := {first};" for name, first in observer.names)
            settle = ["if !dead then", *settle, f"end; if dead then {clear} end;"]
            tick = ["if !dead then", *tick, f"end; if dead then {clear} end;"]
    model.procedure("settle(at_start: boolean)", [*settle, "ec := 0;"])
    endless = ""
    if mode == "all":
        endless = f'if steps = {STEPS} then error "ENDLESS"; else steps := steps + 1; end;'
    model.function("busy()", any_of(unsettled))
    model.procedure(
        "finish()",
        [
            f"if busy() then phase := 1; {endless} else phase := 0;",
            *(["steps := 0;"] if mode == "all" else []),
            "settle(false); end;",
        ],
    )
    time = ["phase = 0", *model.tick_guard]
    if mode == "count":
        time.append("!dead")
    passing = [*model.tick, *tick]
    if mode == "world":
        passing.append("ticked := true;")
    model.moves.append(Move("time passes", all_of(time), passing))
    model.moves.append(
        Move(
            "start",
            all_of(["phase = 2", *model.begin_guard]),
            [*model.begin, "phase := 0; settle(true);"],
            [f"{name}: {kind}" for name, kind in model.choices],
        )
    )


def whole_text(model: Model) -> str:
    """The model as one text."""
    parts: list[str] = []
    start: list[str] = []
    for variable in model.variables:
        kind = variable.kind
        if variable.length:
            first, last = (1, -variable.length) if variable.length < 0 else (0, variable.length - 1)
            kind = f"array[{first}..{last}] of {kind}"
            start.append(f"for k: {first}..{last} do {variable.name}[k] := {variable.first}; end;")
        else:
            start.append(f"{variable.name} := {variable.first};")
        parts.append(f"var {variable.name}: {kind};")
    parts += model.procedures
    body = "\n  ".join(start)
    parts.append(f'startstate "before the start"\nbegin\n  {body}\nend;\n')
    for move in model.moves:
        over = "; ".join(move.over)
        text = f'rule "{move.name}" {move.guard} ==>\nvar m: 0..255;\nbegin\n  '
        if any(item.startswith("m:") for item in move.over):
            text = f'rule "{move.name}" {move.guard} ==>\nbegin\n  '
        text += "\n  ".join(move.action) + "\nend;\n"
        parts.append(f"ruleset {over} do\n{text}end;\n" if over else text)
    parts += model.properties
    return "\n".join(parts) + "\n"


# ---------------------------------------------------------------- running it


def run(text: str, *, limit_s: float = 20.0, memory_mb: int = 3000) -> Seen:
    """What the model checker finds. Raises: TooLarge."""
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        (here / "m.m").write_text(text, encoding="utf-8")
        rumur = [
            "rumur", "--threads", "1", "--counterexample-trace", "off", "--deadlock-detection",
            "off", "--symmetry-reduction", "off", "--output", "m.c", "m.m",
        ]  # fmt: skip
        gcc = ["gcc", "-std=c11", "-O1", "-w", "-march=native", "-mcx16", "-o", "m", "m.c"]
        for command in (rumur, [*gcc, "-lpthread", "-latomic"]):
            made = subprocess.run(command, cwd=here, capture_output=True, text=True, check=False)
            if made.returncode:
                raise AssertionError(f"{command[0]}: {made.stderr[:2000]}\n")
        limited = ["bash", "-c", f"ulimit -v {memory_mb * 1024}; exec ./m"]
        try:
            found = subprocess.run(
                limited, cwd=here, capture_output=True, text=True, timeout=limit_s, check=False
            )
        except subprocess.TimeoutExpired:
            raise TooLarge("time") from None
    return read(found.stdout + found.stderr)


def read(output: str) -> Seen:
    """The model checker's output as a value. Raises: TooLarge."""
    if "error(s) found" not in output and "No error found" not in output:
        raise TooLarge("memory")
    endless = "\tENDLESS" in output or "\tOVERFLOW" in output
    blocked = 'liveness property "time goes on" violated' in output
    failed = "FAILED" in output
    if "error(s) found" in output and not (endless or blocked or failed or "not hit" in output):
        raise AssertionError(output[-2000:])
    counts = [int(item.split(";")[0]) for item in output.split("FAILED ")[1:]]
    return Seen(
        failed,
        endless,
        blocked,
        'cover "reached" hit' in output,
        'cover "played" hit' in output or "PLAYED" in output,
        min(counts, default=None),
    )


def can_be_blocked(job: Job) -> bool:
    """Whether the surroundings may come to a moment beyond which time cannot go on."""
    return any(isinstance(a, AssumeAlways | AssumeStays) for a in job.assumptions)


def look(
    job: Job,
    requirement: Requirement,
    *,
    split: int = 2,
    limit_s: float = 20.0,
    measure_s: Fraction | None = None,
) -> Seen:
    """All that is found of a requirement. Raises: NotExported, TooLarge."""
    if can_be_blocked(job) and run(murphi_text(job, None, "world"), limit_s=limit_s).blocked:
        raise NotExported("assumptions that block time (15)")
    plain = murphi_text(job, requirement, "stop", split=split, measure_s=measure_s)
    model = Model(job, requirement, "stop")
    if may_be_endless(model):
        plain = murphi_text(job, requirement, "all", split=split, measure_s=measure_s)
    return run(plain, limit_s=limit_s)


def answer(job: Job, requirement: Requirement, *, split: int = 2, limit_s: float = 20.0) -> Verdict:
    """The verdict on a claim (not a ``measure``). Raises: NotExported, TooLarge."""
    assert not isinstance(requirement.form, MeasureLongest)
    seen = look(job, requirement, split=split, limit_s=limit_s)
    if seen.endless:
        return "endless"
    if isinstance(requirement.form, Possible):
        return "proved" if seen.failed else "refuted"
    return "refuted" if seen.failed else "proved"


def answer_and_vacuity(
    job: Job, requirement: Requirement, *, limit_s: float = 20.0
) -> tuple[Verdict, bool]:
    """The verdict on a claim, and whether it is proved without ever coming into play.

    Raises: NotExported, TooLarge.
    """
    seen = look(job, requirement, limit_s=limit_s)
    if seen.endless:
        return "endless", False
    if isinstance(requirement.form, Possible):
        return ("proved" if seen.failed else "refuted"), False
    return ("refuted" if seen.failed else "proved"), not seen.failed and not seen.played


def fewest_happenings(
    job: Job, requirement: Requirement, most: int, *, limit_s: float = 20.0
) -> int | None:
    """In how few happenings the claim fails (``possible``: is reached), none within ``most``.

    Raises: NotExported, TooLarge.
    """
    return run(murphi_text(job, requirement, "count", happenings=most), limit_s=limit_s).fewest


def bound_is(
    job: Job,
    requirement: Requirement,
    bound_s: Fraction | Literal["unbounded"] | None,
    *,
    limit_s: float = 20.0,
) -> Literal["exact", "too low", "too high", "endless"]:
    """Whether a ``measure`` has this bound: never later, and reached; or a proved ``leads to``.

    Of ``unbounded``, whether more than all durations of the job together is reached.
    Raises: NotExported, TooLarge.
    """
    figure = bound_s if isinstance(bound_s, Fraction) else Fraction(0)
    if bound_s == "unbounded":
        figure = 2 * sum(Model(job, requirement, "stop").durations(), Fraction(1))
    seen = look(job, requirement, measure_s=figure, limit_s=limit_s)
    if seen.endless:
        return "endless"
    if bound_s == "unbounded":
        return "exact" if seen.failed else "too high"
    if isinstance(requirement.form, LeadsTo) and bound_s == 0:
        return "too low" if seen.failed else "exact"
    if seen.failed:
        return "too low"
    return "exact" if seen.reached == (bound_s is not None) else "too high"
