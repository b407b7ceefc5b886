"""A second failing case, truly different: without something that the first one cannot do without."""

from __future__ import annotations

from verifier.explain.playback import case_on
from verifier.model.job import Job, Requirement
from verifier.proof.another import run_without
from verifier.simulate.run import Run


def another(job: Job, requirement: Requirement, run: Run, limit_s: float = 5.0) -> Run | None:
    """A run that breaks the requirement in another way than ``run``; None if none was found.

    Of what happens in ``run`` each is left out of all runs in turn, the last first; preferred is
    a run in which other lines act.
    """
    acting = [step.because for step in run.steps]
    alike: Run | None = None
    occurs = case_on(job, requirement, run).occurs
    for what in dict.fromkeys(o.what for o in reversed(occurs)):
        found = run_without(job, requirement, frozenset({what}), limit_s)
        if found is None:
            continue
        if {s for b in acting for s in b} != {s for step in found.steps for s in step.because}:
            return found
        alike = alike or found
    return alike
