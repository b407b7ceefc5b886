"""A requirement as a network of timed automata, in the language of TChecker (F. Herbreteau, G. Point).

Made of the same relation as the ticks (:mod:`tests.benchmarks.tick_model`): a process for each
variable, a place for each of its values, the bounds as invariants there; each path of the relation
is an event that those processes take together whose variable it reads or writes. Time is dense.

``python -m tests.benchmarks.zone_model FILE`` asks TChecker about such a text, and prints its answer
and the seconds of its search as it tells them.
"""

from __future__ import annotations

import sys
from pathlib import Path as File

from tests.benchmarks.tick_model import TickModel
from verifier.proof.relation import Cube, Path
from verifier.surroundings.state import FOREVER

WATCH = "watch"
"""The process that holds no variable: all other comparisons of clocks, and where a claim fails."""


class NotInZones(Exception):
    """The job does something that such a network does not; ``args[0]`` says what."""


class _Network:
    def __init__(self, model: TickModel) -> None:
        self.model = model
        self.events: list[str] = []
        self.syncs: list[str] = []
        self.edges: list[str] = []
        self.values = [range(count) for count in model.domains]

    def about(self, clock: int, touched: set[int]) -> str:
        """The process of those that take part which a clock belongs to: its variable says if it is read.

        There its comparisons and resets stand, so that TChecker's own analysis sees where it is idle.
        """
        for use in self.model.uses[clock]:
            for variable, _ in use:
                if variable in touched:
                    return f"v{variable}"
        return WATCH

    def clock_facts(self, cube: Cube, touched: set[int]) -> dict[str, list[str]]:
        """What a cube says of the clocks, by process."""
        facts: dict[str, list[str]] = {}
        for clock, low, high in cube.clocks:
            if not self.model.tops[clock]:
                continue
            found = facts.setdefault(self.about(clock, touched), [])
            if low > 0:
                found.append(f"x{clock} {'>' if low & 1 else '>='} {low >> 1}")
            if high < FOREVER:
                found.append(f"x{clock} {'<' if high & 1 else '<='} {(high + 1) >> 1}")
        return facts

    def event(self, name: str, cube: Cube, path: Path | None, then: str) -> None:
        """An event that takes the watching process to ``then``."""
        written = {variable: (source, bit) for variable, source, bit in path.values} if path else {}
        read = dict(cube.values)
        touched = {*read, *written}
        facts = self.clock_facts(cube, touched)
        sets: dict[str, list[str]] = {}
        for clock, source in path.clocks if path else ():
            if self.model.tops[clock]:
                if source >= 0:
                    raise NotInZones("a clock takes the time of another")
                sets.setdefault(self.about(clock, touched), []).append(f"x{clock}=0")

        def attributes(process: str) -> str:
            given, done = facts.get(process, []), sets.get(process, [])
            items = [f"provided: {' && '.join(given)}"] if given else []
            items += [f"do: {';'.join(done)}"] if done else []
            return f"{{{' : '.join(items)}}}" if items else ""

        self.events.append(f"event:{name}")
        self.edges.append(f"edge:{WATCH}:go:{then}:{name}{attributes(WATCH)}")
        together = [f"{WATCH}@{name}"]
        for variable in sorted(touched):
            source, bit = written.get(variable, (variable, 0))
            if source >= 0 and source != variable:
                raise NotInZones("a variable takes the value of another")
            process = f"v{variable}"
            together.append(f"{process}@{name}")
            for value in self.values[variable]:
                if read.get(variable, -1) >> value & 1:
                    after = value if source == variable else bit.bit_length() - 1
                    self.edges.append(
                        f"edge:{process}:is{value}:is{after}:{name}{attributes(process)}"
                    )
        if len(together) > 1:
            self.syncs.append(f"sync:{':'.join(together)}")

    def start(self, name: str, path: Path) -> None:
        """An event with which a run begins: any values that it allows."""
        written = {variable: (source, bit) for variable, source, bit in path.values}
        read = dict(path.before.values)
        self.events.append(f"event:{name}")
        self.edges.append(f"edge:{WATCH}:start:go:{name}")
        together = [f"{WATCH}@{name}"]
        for variable in range(len(self.values)):
            source, bit = written.get(variable, (variable, 0))
            if source >= 0 and source != variable:
                raise NotInZones("a variable takes the value of another")
            mask = read.get(variable, -1) if source == variable else bit
            together.append(f"v{variable}@{name}")
            for value in self.values[variable]:
                if mask >> value & 1:
                    self.edges.append(f"edge:v{variable}:start:is{value}:{name}")
        self.syncs.append(f"sync:{':'.join(together)}")


def tchecker(model: TickModel) -> str:
    """The network; the claim fails where the label ``failed`` is reached. Raises: NotInZones."""
    network = _Network(model)
    limits: dict[tuple[int, int], list[str]] = {}
    always: list[str] = []
    for bound in model.bounds:
        limit = f"x{bound.clock} <= {bound.limit}"
        if not bound.when:
            always.append(limit)
        elif len(bound.when) > 1:
            raise NotInZones("a bound that hangs on two variables")
        for variable, mask in bound.when:
            for value in network.values[variable]:
                if mask >> value & 1:
                    limits.setdefault((variable, value), []).append(limit)
    for k, path in enumerate(model.starts):
        network.start(f"begin{k}", path)
    for k, path in enumerate(model.paths):
        network.event(f"path{k}", path.before, path, "go")
    for k, cube in enumerate(model.bad):
        network.event(f"fails{k}", cube, None, "bad")
    places = []
    for variable, values in enumerate(network.values):
        places += [f"process:v{variable}", f"location:v{variable}:start{{initial: : committed:}}"]
        for value in values:
            held = " && ".join(limits.get((variable, value), []))
            places.append(
                f"location:v{variable}:is{value}{{{f'invariant: {held}' if held else ''}}}"
            )
    held = " && ".join(always)
    lines = [
        "system:job",
        *network.events,
        *(f"clock:1:x{clock}" for clock, top in enumerate(model.tops) if top),
        *places,
        f"process:{WATCH}",
        f"location:{WATCH}:start{{initial: : committed:}}",
        f"location:{WATCH}:go{{{f'invariant: {held}' if held else ''}}}",
        f"location:{WATCH}:bad{{labels: failed : committed:}}",
        *network.edges,
        *network.syncs,
    ]
    return "\n".join(lines) + "\n"


def main(file: str) -> None:
    """Prints TChecker's answer."""
    from importlib import import_module

    reach = import_module("tcheckerpy.tools.tck_reach")
    text = File(file).read_text("ascii")
    found, told, _ = reach.reach(text, reach.Algorithm.ALU_COVREACH, labels=["failed"])
    seconds = dict(line.split() for line in told.splitlines())["RUNNING_TIME_SECONDS"]
    print("refuted" if found else "proved", seconds)


if __name__ == "__main__":
    main(sys.argv[1])
