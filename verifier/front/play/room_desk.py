"""The room of a page: what a person asks of it, done in a session that the page's desk keeps."""

from __future__ import annotations

import pickle
from itertools import takewhile
from typing import assert_never

from verifier.front.play.messages import RoomDo
from verifier.front.play.values import Object, Places
from verifier.model.job import Job
from verifier.proof.verdict import Answered, Proved, Refuted, Verdict
from verifier.simulate.run import Run
from verifier.source import Sources
from verifier.teach.playing import CannotBegin
from verifier.teach.room import NotPossible, RoomSession
from verifier.teach.room_values import Moment


class RoomDesk:
    """A room of the text as it was when the room was begun; a later text leaves it as it is."""

    def __init__(self) -> None:
        self.session: RoomSession | None = None
        self.job: Job | None = None
        self.places = Places(Sources(()))
        self.version = -1
        self._last: tuple[Moment, ...] = ()
        """The moments that the page knows."""

    def begin(self, job: Job, sources: Sources, version: int) -> Object:
        """Begins anew, with a job that has no mistake in it."""
        try:
            session = RoomSession(job)
        except CannotBegin as why:
            return _refused(str(why))
        self.session, self.job = session, job
        self.places, self.version = Places(sources), version
        self._last = ()
        return self._told(session)

    def end(self) -> None:
        """Leaves the room."""
        self.session = self.job = None
        self._last = ()

    def carry_out(self, message: RoomDo, pickled: bytes, judged: Sources) -> Object:
        """What is so after something was done.

        ``pickled`` is the verdict that it speaks of, if any; ``judged`` the text that it judges.
        """
        session = self.session
        if session is None:
            return _refused("There is no room yet: begin one.")
        try:
            self._do(session, message, pickled, judged)
        except NotPossible as no:
            return {**self._told(session), "why": no.why, "hint": no.hint}
        return self._told(session)

    def _told(self, session: RoomSession) -> Object:
        """The room as it is; of its moments those alone that follow the ``kept`` that the page knows.

        It draws what was so from the changes of moments, so of a lane it needs the beginning.
        """
        moments = session.moments
        kept = sum(1 for _ in takewhile(lambda two: two[0] is two[1], zip(self._last, moments)))
        since = moments[kept - 1].number if kept else 0
        told = session.as_json(self.places.of, since)
        told["lanes"] = [{**lane, "values": lane["values"][:1]} for lane in told["lanes"]]
        self._last = moments
        return {"kind": "room", "version": self.version, "kept": kept, **told}

    def _do(self, session: RoomSession, message: RoomDo, pickled: bytes, judged: Sources) -> None:
        match message.do:
            case "act":
                session.do(message.key)
            case "pass":
                if message.seconds is None:
                    raise NotPossible("how much time is to pass was not said")
                session.pass_time(message.seconds)
            case "due":
                if session.showing is None:
                    session.pass_until_due()
                else:
                    session.step()
            case "undo":
                if session.showing is not None:
                    session.step(-1)
                elif not session.undo():
                    raise NotPossible("there is nothing to take back")
            case "choose":
                session.choose(message.key)
            case "against":
                session.against(message.requirement or None)
            case "show_run":
                if judged != self.places.sources:
                    raise NotPossible(
                        "the text has changed since this room was begun",
                        "Begin anew: then the run is of the same text as the room.",
                    )
                self._show(session, message.requirement, pickled)
            case "start" | "end":
                raise AssertionError("room desk: begun and left elsewhere")
            case _:
                assert_never(message.do)

    def _show(self, session: RoomSession, name: str, pickled: bytes) -> None:
        """Shows the run that the prover found for a requirement."""
        assert self.job is not None
        if name not in self.job.requirement:
            raise NotPossible(f"there is no requirement “{name}” in this room")
        if not pickled:
            raise NotPossible(f"“{name}” has not been judged yet")
        verdict: Verdict = pickle.loads(pickled)  # from another process of this page
        run = run_of(verdict)
        if run is None:
            raise NotPossible(f"there is no run to show of “{name}”")
        session.play(run, self.job.requirement[name])


def run_of(verdict: Verdict) -> Run | None:
    """The run that a verdict has to show, if it has one."""
    match verdict:
        case Refuted(run) | Answered(_, run):
            return run
        case Proved():
            return verdict.witness
        case _:
            return None


def _refused(words: str) -> Object:
    return {"kind": "room", "words": words}
