"""Everything that is told of a requirement that fails: story, blame, contrast, another case."""

from __future__ import annotations

from dataclasses import dataclass

from verifier.explain.another import another
from verifier.explain.blame import Blame, blamed
from verifier.explain.contrast import Contrast, contrast_of
from verifier.explain.story import Story, story_of
from verifier.model.job import Job, Requirement
from verifier.proof.verdict import Answered, Refuted, Verdict
from verifier.simulate.run import Run


@dataclass(frozen=True, slots=True)
class Explained:
    """A requirement that fails (or has no bound), explained.

    ``story`` is None only if the run could not be played again here, or if there is none (a
    condition that is never reached); ``other`` is the story of another case, if one was asked
    for and found.
    """

    requirement: Requirement
    verdict: Verdict
    story: Story | None
    blames: tuple[Blame, ...]
    contrast: Contrast | None
    other: Story | None


def failing_run(verdict: Verdict) -> Run | None:
    """The run by which a verdict fails; None of one that holds."""
    match verdict:
        case Refuted(run):
            return run
        case Answered("unbounded", run):
            return run
        case _:
            return None


def fails(verdict: Verdict) -> bool:
    """Whether there is something to explain."""
    return isinstance(verdict, Refuted) or failing_run(verdict) is not None


def explained(
    job: Job, requirement: Requirement, verdict: Verdict, *, other: bool = False
) -> Explained:
    """What is told of a verdict that fails; ``other`` asks for a second case, by a search."""
    run = failing_run(verdict)
    story = None if run is None else story_of(job, requirement, run)
    if run is None or story is None:
        return Explained(requirement, verdict, None, (), None, None)
    second = another(job, requirement, run) if other else None
    return Explained(
        requirement,
        verdict,
        story,
        blamed(job, requirement, story.case),
        contrast_of(job, requirement, story.case, story.played),
        None if second is None else story_of(job, requirement, second),
    )
