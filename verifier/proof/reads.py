"""What a rule can find when it reads its guards and conditions, in all runs.

The graph knows what is impossible by structure; this asks the rest of the hull of all states that
can be reached. A hull has more states than there are, never fewer, so what is not found in it is
found in no run. One exploration answers for all conditions of a rule.
"""

from __future__ import annotations

from dataclasses import replace

from verifier.diagnostics import Diagnostic
from verifier.graph.branches import BranchCondition, branch_conditions
from verifier.graph.findings import branch_findings
from verifier.graph.slice import about_rule, slice_job
from verifier.graph.values import structure_of
from verifier.model.job import Condition, Job, Requirement
from verifier.simulate.monitor import Monitor
from verifier.simulate.structure import Instant, Structure
from verifier.simulate.system import System
from verifier.surroundings.happenings import Happening
from verifier.surroundings.state import Registers
from verifier.surroundings.world import FALSE, TRUE

MOST_STATES = 1_000
"""Discrete states of a rule's slice, beyond which nothing is told of its conditions."""

LIMIT_S = 30.0
"""Seconds, for an emergency: work is what is limited."""

Found = tuple[bool, bool]
"""Whether a condition can be read true, and whether it can be read false."""


class _Notes(Monitor):
    """Claims nothing; holds what was read in the last instant, a variable for each side."""

    def __init__(self, system: Structure, requirement: Requirement, count: int) -> None:
        super().__init__(system, requirement, None)
        self.sides = [
            (self.flag(f"condition {k} was false"), self.flag(f"condition {k} was true"))
            for k in range(count)
        ]

    def bad(self, reg: Registers) -> bool:
        """Nothing fails."""
        return False


class _Reading(System):
    """A system that notes what one of its rules finds when it reads ``asked``."""

    def __init__(
        self, job: Job, requirement: Requirement, rule: str, asked: tuple[BranchCondition, ...]
    ) -> None:
        self.asked_rule = rule
        self.asked = asked
        self.in_body = {
            id(branch.condition): k for k, branch in enumerate(asked) if branch.event is None
        }
        self.notes: _Notes

        def watch(system: Structure) -> Monitor:
            self.notes = _Notes(system, requirement, len(asked))
            return self.notes

        super().__init__(job, requirement, watch=watch)

    def note(self, reg: Registers, number: int, truth: bool) -> None:
        """Notes what was read."""
        reg.put(self.notes.sides[number][truth], TRUE)

    def happen(self, reg: Registers, now: Instant, happening: Happening) -> None:
        """As ever; what was noted before is forgotten."""
        for side in self.notes.flags:
            reg.put(side, FALSE)
        super().happen(reg, now, happening)

    def guard_holds(self, reg: Registers, rule: int, kind: int) -> bool:
        """As ever, and each part is noted for each line that matched."""
        declared = self.rules[rule]
        if declared.name == self.asked_rule:
            lines = [t for k, t in enumerate(declared.triggers) if kind >> k & 1]
            first = declared.provided is None or self.holds(reg, declared.provided, False)
            for number, branch in enumerate(self.asked):
                if not any(line.span == branch.span for line in lines):
                    continue
                if branch.kind == "provided":
                    self.note(reg, number, first)
                elif branch.kind == "upon" and first:
                    self.note(reg, number, self.holds(reg, branch.condition, False))
        return super().guard_holds(reg, rule, kind)

    def holds(
        self, reg: Registers, condition: Condition, truth: bool, timed_out: int | None = None
    ) -> bool:
        """As ever; a condition of the rule's body is noted."""
        found = super().holds(reg, condition, truth, timed_out)
        number = self.in_body.get(id(condition))
        if number is not None:
            self.note(reg, number, found)
        return found


def reading_system(job: Job, rule: str, asked: tuple[BranchCondition, ...]) -> _Reading:
    """The slice of a rule as a system that notes what the rule reads.

    ``asked`` holds the very objects that stand in ``job`` (they are told apart by identity).
    """
    requirement = about_rule(job, rule)
    return _Reading(slice_job(job, requirement), requirement, rule, asked)


def reads_task(
    job: Job, rule: str, asked: tuple[BranchCondition, ...], most_work: int
) -> tuple[Found, ...] | None:
    """What each of a rule's conditions can be read as; None if that could not be told in time."""
    from verifier.proof.hull import hull
    from verifier.proof.moves import Moves, TooLarge
    from verifier.proof.question import commuting

    system = reading_system(job, rule, asked)
    moves = Moves(system, commuting(system))
    try:
        found = hull(moves, most_states=MOST_STATES, limit_s=LIMIT_S, most_work=most_work)
    except TooLarge:
        return None
    if found.endless:
        return None
    return tuple(
        (
            any(state[was_true] & TRUE for state in found.zones),
            any(state[was_false] & TRUE for state in found.zones),
        )
        for was_false, was_true in system.notes.sides
    )


def asked_of(job: Job) -> dict[str, tuple[BranchCondition, ...]]:
    """For each rule of whose conditions the structure leaves something open: all of them."""
    found: dict[str, tuple[BranchCondition, ...]] = {}
    for branch in branch_conditions(job):
        # The ways to a condition are not needed, and are large.
        plain = replace(branch, if_true=(), if_false=())
        found[branch.rule] = (*found.get(branch.rule, ()), plain)
    return {
        rule: branches
        for rule, branches in found.items()
        if any(b.kind == "wait until" or (b.can_be_true and b.can_be_false) for b in branches)
    }


def read_findings(
    job: Job, asked: tuple[BranchCondition, ...], found: tuple[Found, ...] | None
) -> tuple[Diagnostic, ...]:
    """What a proof shows of a rule's conditions that their structure does not (None: nothing)."""
    if found is None:
        return ()
    by_structure = {
        (told.code, told.labels[0].span)
        for told in branch_findings(job, asked, structure_of(job).domains)
    }
    known = tuple(
        replace(branch, can_be_true=true, can_be_false=false, exact=True)
        for branch, (true, false) in zip(asked, found, strict=True)
    )
    return tuple(
        replace(told, message=f"{told.message} (in any run)")
        for told in branch_findings(job, known)
        if (told.code, told.labels[0].span) not in by_structure
    )
