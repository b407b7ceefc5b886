"""Of all shortest failing paths the one that fails first.

Breadth-first search over zones keeps one way to each zone; another of the same length may be
quicker. This goes through the shortest paths once more, depth first, cut off where a path can no
longer be in time.
"""

from __future__ import annotations

from verifier.proof.fit import NoRealRun, timeline_of
from verifier.proof.moves import Discrete, Move, Moves
from verifier.proof.timing import Moment, Timeline, earliest
from verifier.proof.zones import constrained_all, origin

MOST_NODES = 3_000
"""Partial paths that are looked at before the best so far is taken."""


def earliest_of_length(moves: Moves, length: int, best: Timeline) -> Timeline:
    """The path of ``length`` happenings that fails earliest, ``best`` if there is none earlier."""
    search = _Search(moves, length, best)
    for start in search.starts:
        zone = moves.settled(start, origin(moves.info(start).size))
        if zone is not None:
            search.visit(start, start, zone, ())
    return search.best


class _Search:
    def __init__(self, moves: Moves, length: int, best: Timeline) -> None:
        self.moves = moves
        self.length = length
        self.best = best
        self.nodes = 0
        self.starts = moves.starts()
        self.far = self._distances()

    def _distances(self) -> dict[Discrete, int]:
        """Fewest moves from each discrete state to one that may fail, as far as they matter."""
        seen = dict.fromkeys(self.starts, 0)
        layer = list(seen)
        before: dict[Discrete, set[Discrete]] = {}
        for depth in range(self.length):
            following = []
            for state in layer:
                for move in self.moves.of(state):
                    if move.endless:
                        continue
                    before.setdefault(move.target, set()).add(state)
                    if move.target not in seen:
                        seen[move.target] = depth + 1
                        following.append(move.target)
            layer = following
        far = {state: 0 for state in seen if self.moves.info(state).bad}
        todo = list(far)
        for state in todo:
            for earlier in before.get(state, ()):
                if earlier not in far:
                    far[earlier] = far[state] + 1
                    todo.append(earlier)
        return far

    def visit(
        self, start: Discrete, state: Discrete, zone: tuple[int, ...], path: tuple[Move, ...]
    ) -> None:
        """Goes on from a partial path."""
        left = self.length - len(path)
        if self.far.get(state, left + 1) > left or self.nodes > MOST_NODES:
            return
        self.nodes += 1
        if left == 0:
            self._judge(start, state, zone, path)
            return
        if path and self._so_far(start, path) >= self.best.timed.end:
            return
        for move in self.moves.of(state):
            if move.endless or self.far.get(move.target, left) > left - 1:
                continue
            entered = self.moves.after(state, zone, move)
            settled = None if entered is None else self.moves.settled(move.target, entered)
            if settled is not None:
                self.visit(start, move.target, settled, (*path, move))

    def _so_far(self, start: Discrete, path: tuple[Move, ...]) -> Moment:
        timed = earliest(self.moves, start, path, ())
        return self.best.timed.end if timed is None else timed.moments[-1]

    def _judge(
        self, start: Discrete, state: Discrete, zone: tuple[int, ...], path: tuple[Move, ...]
    ) -> None:
        info = self.moves.info(state)
        for bad in info.bad:
            if constrained_all(zone, info.size, bad) is None:
                continue
            try:
                found = timeline_of(self.moves, start, path, bad)
            except NoRealRun:
                continue
            if found is not None and found.timed.end < self.best.timed.end:
                self.best = found
