"""The process of a page that proves: a workbench that is told each new text."""

from __future__ import annotations

import pickle
import time
from dataclasses import replace
from fractions import Fraction

from verifier.front.play.messages import Text
from verifier.front.play.orders import VERDICT, Judge, Order, Setup
from verifier.front.play.process import Frame, Say
from verifier.front.play.values import judged_values, verdict_values
from verifier.model.job import Requirement
from verifier.pipeline import Question, Result
from verifier.proof.verdict import Verdict
from verifier.source import SourceFile, Sources
from verifier.workbench import Workbench


class Bench:
    """Proves the texts that it is given; what it found of one helps with the next."""

    def __init__(self, setup: Setup, say: Say, frame: Frame) -> None:
        self.say = say
        self.frame = frame
        question = Question(
            time_limit_s=Fraction(setup.limits.requirement_s), workers=1, years=setup.years
        )
        self.workbench = Workbench(setup.name, question, setup.keeping)

    def carry_out(self, order: Order) -> None:
        """Proves a text, and says each verdict as it comes."""
        assert isinstance(order, Judge)
        text, began = order.text, time.monotonic()
        sources = self._take(text)
        self.say({"kind": "proving", "version": text.version})

        def tell(requirement: Requirement, verdict: Verdict, seconds: float) -> None:
            self.frame(VERDICT + requirement.name.encode() + b"\0" + pickle.dumps(verdict))
            self.say(verdict_values(text.version, requirement, verdict, seconds))

        nothing = Result(self.workbench.name, sources, None, (), (), (), interrupted=True)
        try:
            result = self.workbench.judge(on_verdict=tell)
        except KeyboardInterrupt:
            result = nothing
        if not result.interrupted and result.job is not None and not result.rejected:
            result = replace(result, interrupted=len(result.verdicts) < len(result.asked))
        self.say(judged_values(text.version, result, time.monotonic() - began))

    def _take(self, text: Text) -> Sources:
        """Puts the files of a text where the others were."""
        for file in self.workbench.sources.files:
            if file.name not in dict(text.files):
                self.workbench.remove(file.name)
        self.workbench.put(SourceFile(name, content) for name, content in text.files)
        return self.workbench.sources
