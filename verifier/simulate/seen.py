"""What a person could see of a state, in the contract's words."""

from __future__ import annotations

from fractions import Fraction

from verifier.model.job import DOOR_VALUES, Is
from verifier.model.words import value as value_words
from verifier.simulate.fading import NO_FADE
from verifier.simulate.replay import Concrete
from verifier.simulate.system import System
from verifier.surroundings.levels import Around


def seen_values(system: System, state: Concrete) -> dict[str, str]:
    """What a person could see of a state: (subject, value) in declared order."""
    return {name: value for name, value, _ in _seen(system, state)}


def changes_between(
    system: System, before: Concrete, after: Concrete
) -> tuple[tuple[str, str], ...]:
    """What differs, in declared order."""
    old = seen_values(system, before)
    return tuple((n, v) for n, v in seen_values(system, after).items() if old[n] != v)


def _seen(system: System, state: Concrete) -> list[tuple[str, str, int]]:

    world, layout = system.world, system.layout
    found: list[tuple[str, str, int]] = []
    for point in system.job.points:
        if point.name in system.job.door_of_point:
            variable, mask = world.locate(Is(point.name, point.kind.values[1]))
            on = bool(state.values[variable] & mask)
            found.append((point.name, point.kind.values[1 if on else 0], variable))
        elif point.name in world.of_point:
            variable = world.of_point[point.name]
            value = layout.variables[variable].values[state.values[variable].bit_length() - 1]
            text = value_words(value) if isinstance(value, Fraction) else str(value)
            if isinstance(value, Around):
                text += _heading(system, state, point.name)
            found.append((point.name, text, variable))
        copy = world.copy_of(point.name)
        if copy is not None:
            reported = point.kind.values[state.values[copy].bit_length() - 1]
            found.append((f"{point.name} as reported", reported, copy))
    for door in system.job.doors:
        variable = world.of_door[door.name]
        for value in DOOR_VALUES:
            if state.values[variable] & world.locate(Is(door.name, value))[1]:
                found.append((door.name, value, variable))
    for room in system.job.rooms:
        variable = world.of_room[room.name]
        peopled = state.values[variable] == 2
        found.append((room.name, "peopled" if peopled else "empty", variable))
    if world.night is not None:
        found.append(("sun", "night" if state.values[world.night] == 2 else "day", world.night))
    if world.in_calendar is not None:
        calendar, variable = world.in_calendar.calendar, world.in_calendar.phase
        phase = calendar.phases[state.values[variable].bit_length() - 1]
        if calendar.marks.times:
            found.append(("clock", calendar.marks.words(phase.stretch), variable))
        if calendar.linked:
            found.append(("sun", "night" if phase.night else "day", variable))
    for rule, slots, queue in zip(system.rules, system.slots, system.queues, strict=True):
        count = sum(state.values[slot] != 1 for slot in slots)
        text = "idle" if count == 0 else "running" if len(slots) == 1 else f"{count} running"
        waiting = sum(state.values[place] != 1 for place in queue)
        if waiting:
            text += f", {waiting} waiting"
        found.append((rule.name, text, slots[0]))
    return found


def _heading(system: System, state: Concrete, dimmer: str) -> str:
    """Where a dimmer goes that fades: empty if it does not, or if both ways are possible."""
    fading = system.fading.get(dimmer)
    if fading is None or state.values[fading.active] == NO_FADE:
        return ""
    way = fading.ways[state.values[fading.active].bit_length() - 2]
    values = system.layout.variables[fading.level].values
    begin, target = (values[bit.bit_length() - 1] for bit in (way.start, way.target))
    assert isinstance(target, Fraction)
    assert isinstance(begin, Fraction | Around)
    lowest, highest = (begin, begin) if isinstance(begin, Fraction) else (begin.low, begin.high)
    if highest <= target:
        return " (rising)"
    return " (falling)" if target <= lowest else ""
