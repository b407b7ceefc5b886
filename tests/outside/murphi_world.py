"""The surroundings in Murphi: points, detectors, doors, rooms, night, local switches, assumptions,
power cuts. From the contract's sections on points, doors, rooms and Meaning 6 to 11.
"""

from __future__ import annotations

from tests.outside.murphi_model import Model, all_of, any_of, name_of, no
from verifier.model.job import (
    AssumeAlways,
    AssumeStays,
    DayBegins,
    Door,
    HasStayed,
    NightBegins,
    Point,
    PointKind,
    PowerReturns,
    Pressed,
    Room,
)

RAISED, LOWERED, UP, DOWN, STOPPED = range(5)


def write_world(model: Model) -> None:
    """Adds everything that the surroundings are and do."""
    model.variable("night", "0..1", "0")
    model.choices.append(("i_night", "0..1"))
    model.begin.append("night := i_night;")
    for point in model.job.points:
        if point.kind is not PointKind.BUTTON:
            lay_point(model, point)
    for door in model.job.doors:
        model.variable(f"d_{name_of(door.name)}", "0..4", "0")
    for room in model.job.rooms:
        lay_room(model, room)
    lay_timers(model)
    lay_stays(model)
    for point in model.job.points:
        if point.kind is not PointKind.BUTTON:
            write_setter(model, point)
    for room in model.job.rooms:
        write_room_setter(model, room)
    for door in model.job.doors:
        write_door(model, door)
    model.begin_guard.append(assumed(model, initial_values(model)))


def write_happenings(model: Model) -> None:
    """Adds the surroundings' moves (after the rules' procedures are there)."""
    for point in model.job.points:
        if point.kind is PointKind.BUTTON:
            event = Pressed(point.name)
            lines = model.change(model.just(event))
            model.outside(f"{point.name} pressed", "true", lines)
        elif point.kind.is_input and point.name not in model.job.door_of_point:
            move_input(model, point)
        elif point.local_switch and not point.kind.is_input:
            move_local_switch(model, point)
    move_night(model)
    for door in model.job.doors:
        move_door(model, door)
    for room in model.job.rooms:
        move_room(model, room)
    if model.cuts:
        move_power(model)
    expire_timers(model)


# ---------------------------------------------------------------- points


def lay_point(model: Model, point: Point) -> None:
    """A point's variable and its value at the start (7)."""
    held = model.current(point.name)
    model.variable(held, f"0..{model.last_index(point)}", "0")
    if point.name in model.job.door_of_point:
        return
    if point.starts is not None:
        model.begin.append(f"{held} := {model.index(point, point.starts)};")
    elif point.kind.is_input:
        model.choices.append((f"i_{held}", f"0..{model.last_index(point)}"))
        model.begin.append(f"{held} := i_{held};")
    if most_bound(model, point):
        # Time since the last change; full at the start, as the first stretch is not bound.
        full = most_bound(model, point)
        clock = model.variable(f"h_{name_of(point.name)}", f"0..{full}", f"{full}")
        model.tick.append(f"if {clock} < {full} then {clock} := {clock} + 1; end;")
        model.quiet.append(f"{clock} := {full};")


def most_bound(model: Model, point: Point) -> int:
    """The greater of a detector's two times, in ticks."""
    return max(model.ticks(point.holds_s), model.ticks(point.rearm_s))


def write_setter(model: Model, point: Point) -> None:
    """The procedure that gives a point a value, with all that this sets off."""
    held = model.current(point.name)
    last = model.last_index(point)
    lines = [f"old := {held};", f"{held} := nv;"]
    lines += model.restart_lines(point.name, "old", "nv")
    if most_bound(model, point):
        lines.append(f"h_{name_of(point.name)} := 0;")
    lines += stay_lines(model, point.name, "old", "nv")
    if point.kind is PointKind.DETECTOR:
        lines += seen_lines(model, point)
    lines += model.change(model.subject_event(point.name, "old", "nv"), quietly="quietly")
    model.procedure(
        f"set_{name_of(point.name)}(nv: 0..{last}; quietly: boolean)",
        [f"if {held} != nv then", *lines, "end;"],
        f"var old: 0..{last}; m: 0..255;\n",
    )


def move_input(model: Model, point: Point) -> None:
    """An input changes from outside."""
    name = name_of(point.name)
    held = model.current(point.name)
    guards = [may_leave(model, point.name, held, f"(1 - {held})")]
    if point.kind is PointKind.DETECTOR:
        guards.append(detector_may(model, point))
    guards.append(assumed(model, {point.name: f"(1 - {held})"}))
    model.outside(f"{point.name} changes", all_of(guards), [f"set_{name}(1 - {held}, false);"])


def detector_may(model: Model, point: Point) -> str:
    """When a detector can change: holds, rearm and the rooms that it sees."""
    name = name_of(point.name)
    held = model.current(point.name)
    rooms = [room for room in model.job.rooms if point.name in room.seen_by]
    to_vacant = "true"
    if point.holds_s:
        to_vacant = f"h_{name} >= {model.ticks(point.holds_s)}"
    to_occupied = []
    if point.rearm_s:
        due = [is_due(model, room, point) for room in rooms]
        to_occupied.append(any_of([f"h_{name} >= {model.ticks(point.rearm_s)}", *due]))
    if rooms:
        to_occupied.append(any_of(f"(v_{name_of(room.name)} = 1)" for room in rooms))
    return any_of(
        [all_of([f"{held} = 1", to_vacant]), all_of([f"{held} = 0", *to_occupied])],
    )


def move_local_switch(model: Model, point: Point) -> None:
    """A person switches a lamp at the lamp (10); a dimmer to full or off."""
    held = model.current(point.name)
    for value in (0, model.last_index(point)):
        action = [f"set_{name_of(point.name)}({value}, false);", "armed := false;"]
        model.outside(f"{point.name} by hand to {value}", f"{held} != {value}", action)


def move_night(model: Model) -> None:
    """Night and day alternate, each of any length (13)."""
    lines = ["night := 1 - night;", "if night = 1 then"]
    lines += [*model.change(model.just(NightBegins())), "else"]
    lines += [*model.change(model.just(DayBegins())), "end;"]
    model.outside("night or day begins", assumed(model, {"night": "(1 - night)"}), lines)


# ---------------------------------------------------------------- timers


def lay_timers(model: Model) -> None:
    """``has stayed`` timers: a clock while the value is held, and whether it has run out (6)."""
    for timer in model.timer_keys():
        full = model.ticks(timer.for_s)
        for name in model.timer_names(timer):
            model.variable(name, f"0..{full}", "0")
            model.variable(f"{name}_out", "boolean", "false")
            runs = all_of([model.atom(timer.atom), f"!{name}_out"])
            model.tick_guard.append(no(all_of([runs, f"{name} = {full}"])))
            model.tick.append(f"if {runs} then {name} := {name} + 1; end;")


def expire_timers(model: Model) -> None:
    """A timer runs out: one change for all that listen."""
    for timer in model.timer_keys():
        full = model.ticks(timer.for_s)
        names = model.timer_names(timer)
        due = {
            name: all_of([model.atom(timer.atom), f"!{name}_out", f"{name} = {full}"])
            for name in names
        }
        lines: list[str] = []
        for name in names:
            for_claim = not model.cuts or name == model.timer(timer, False)
            for_rules = not model.cuts or name == model.timer(timer, True)
            lines += [f"if {due[name]} then", f"{name} := 0; {name}_out := true;"]
            event = HasStayed(timer)
            if for_claim and event in model.claim_events:
                lines.append("count();")
            if for_rules:
                for rule in model.job.rules:
                    lines += model.trigger_lines(rule.name, model.just(event))
            lines.append("end;")
        model.expiry(f"timer {names[0]} runs out", any_of(due.values()), lines)


# ---------------------------------------------------------------- assumptions


def assumed(model: Model, instead: dict[str, str]) -> str:
    """What the assumptions demand of the values after a change of the surroundings."""
    return all_of(
        model.condition(a.condition, instead=instead)
        for a in model.job.assumptions
        if isinstance(a, AssumeAlways)
    )


def initial_values(model: Model) -> dict[str, str]:
    """What each subject of an assumption is at the start, in terms of the choices made there."""
    values: dict[str, str] = {"night": "i_night"}
    for point in model.job.points:
        if not point.kind.is_input or point.kind is PointKind.BUTTON:
            continue
        door = model.job.door_of_point.get(point.name)
        if door is not None:
            values[point.name] = switch_of(door, point.name, f"i_d_{name_of(door.name)}")
        elif point.starts is not None:
            values[point.name] = str(model.index(point, point.starts))
        else:
            values[point.name] = f"i_{model.current(point.name)}"
    for door in model.job.doors:
        values[door.name] = f"i_d_{name_of(door.name)}"
    for room in model.job.rooms:
        values[room.name] = f"i_v_{name_of(room.name)}"
    return values


def stays(model: Model) -> list[tuple[str, AssumeStays]]:
    """The assumptions on stretches, each with the name of its clock."""
    found = [a for a in model.job.assumptions if isinstance(a, AssumeStays)]
    return [(f"a{k}", assumption) for k, assumption in enumerate(found)]


def lay_stays(model: Model) -> None:
    """The clocks of assumed stretches. ``at least`` does not bind the first one (7)."""
    for name, assumption in stays(model):
        full = model.ticks(assumption.seconds)
        first = full if assumption.bound == "at least" else 0
        model.variable(name, f"0..{full}", str(first))
        holds = model.atom(assumption.atom)
        if assumption.bound == "at most":
            model.tick_guard.append(no(all_of([holds, f"{name} = {full}"])))
            model.may_last.append(no(holds))
        model.tick.append(f"if {holds} & {name} < {full} then {name} := {name} + 1; end;")
        model.quiet.append(f"{name} := {first};")


def stay_lines(model: Model, subject: str, old: str, new: str) -> list[str]:
    """A change that begins an assumed stretch starts its clock."""
    lines = []
    for name, assumption in stays(model):
        if assumption.atom.subject == subject:
            turned = all_of(
                [no(model.atom(assumption.atom, old)), model.atom(assumption.atom, new)]
            )
            lines.append(f"if {turned} then {name} := 0; end;")
    return lines


def may_leave(model: Model, subject: str, old: str, new: str) -> str:
    """Whether assumed least lengths let a subject change."""
    guards = []
    for name, assumption in stays(model):
        if assumption.atom.subject == subject and assumption.bound == "at least":
            full = model.ticks(assumption.seconds)
            leaves = all_of(
                [model.atom(assumption.atom, old), no(model.atom(assumption.atom, new))]
            )
            guards.append(any_of([no(leaves), f"{name} = {full}"]))
    return all_of(guards)


# ---------------------------------------------------------------- doors


def switch_of(door: Door, point: str, place: str) -> str:
    """The value of a limit or motor's switch when the door is at a place."""
    if point == door.raised_by:
        return one_if(f"{place} = {RAISED}", place)
    if point == door.lowered_by:
        return one_if(f"{place} = {LOWERED}", place)
    return one_if(f"({place} = {UP} | {place} = {DOWN})", place)


def one_if(condition: str, place: str) -> str:
    """A number for a truth value: computed where the place is a figure."""
    if place.isdigit():
        figure = int(place)
        wanted = [int(word) for word in condition.replace("(", " ").replace(")", " ").split()[2::4]]
        return "1" if figure in wanted else "0"
    return f"({condition} ? 1 : 0)"


def switches(door: Door) -> list[str]:
    """The points that a door sets."""
    return [name for name in (door.raised_by, door.lowered_by, door.moving_by) if name is not None]


def write_door(model: Model, door: Door) -> None:
    """A door's clock, its start, and the procedure that puts it into a place (11)."""
    name = name_of(door.name)
    most = model.ticks(door.travel_most_s)
    model.variable(f"dc_{name}", f"0..{most}", "0")
    model.variable(f"df_{name}", "boolean", "false")
    places = {
        "raised": f"(i_d_{name} = {RAISED})",
        "lowered": f"(i_d_{name} = {LOWERED})",
        "anywhere": f"(i_d_{name} = {RAISED} | i_d_{name} = {LOWERED} | i_d_{name} = {STOPPED})",
        None: f"(i_d_{name} = {RAISED} | i_d_{name} = {LOWERED})",
    }
    model.choices.append((f"i_d_{name}", "0..4"))
    model.begin_guard.append(places[door.starts])
    model.begin.append(f"d_{name} := i_d_{name};")
    for switch in switches(door):
        point = model.job.point[switch]
        value = switch_of(door, switch, f"i_d_{name}")
        model.begin.append(f"{model.current(switch)} := {value};")
        if point.starts is not None:
            model.begin_guard.append(f"({value} = {model.index(point, point.starts)})")
    moving = f"(d_{name} = {UP} | d_{name} = {DOWN})"
    model.tick_guard.append(no(all_of([moving, f"dc_{name} = {most}"])))
    model.tick.append(f"if {moving} & dc_{name} < {most} then dc_{name} := dc_{name} + 1; end;")
    model.may_last.append(no(moving))
    lines = [f"old := d_{name};", f"d_{name} := nv;", f"dc_{name} := 0;"]
    lines.append(f"df_{name} := (nv = {UP} | nv = {DOWN}) & (old = {RAISED} | old = {LOWERED});")
    lines += model.restart_lines(door.name, "old", "nv")
    lines += stay_lines(model, door.name, "old", "nv")
    lines += model.change(model.subject_event(door.name, "old", "nv"))
    for switch in switches(door):
        lines.append(f"set_{name_of(switch)}({switch_of(door, switch, 'nv')}, false);")
    model.procedure(f"set_door_{name}(nv: 0..4)", lines, "var old: 0..4; m: 0..255;\n")


def move_door(model: Model, door: Door) -> None:
    """A person starts, stops or reverses the door; it comes to its limits by itself."""
    name = name_of(door.name)
    least = model.ticks(door.travel_least_s)
    full_run = any_of([f"!df_{name}", f"dc_{name} >= {least}"])
    for old, new, guard in (
        (RAISED, DOWN, "true"),
        (LOWERED, UP, "true"),
        (STOPPED, UP, "true"),
        (STOPPED, DOWN, "true"),
        (UP, STOPPED, "true"),
        (DOWN, STOPPED, "true"),
        (UP, RAISED, full_run),
        (DOWN, LOWERED, full_run),
    ):
        values = {s: switch_of(door, s, str(new)) for s in switches(door)}
        guards = [f"d_{name} = {old}", guard, may_leave(model, door.name, str(old), str(new))]
        for switch, value in values.items():
            guards.append(may_leave(model, switch, switch_of(door, switch, str(old)), value))
        guards.append(assumed(model, {door.name: str(new), **values}))
        model.outside(
            f"{door.name} from {old} to {new}", all_of(guards), [f"set_door_{name}({new});"]
        )


# ---------------------------------------------------------------- rooms


def watched(model: Model, room: Room) -> list[Point]:
    """The detectors that see a room."""
    return [model.job.point[name] for name in room.seen_by]


def lay_room(model: Model, room: Room) -> None:
    """A room's people, and for each detector what is due: 1 the notice, 2 the next movement.

    What is due counts from the start for people who are still at the start (7: ``at most`` counts
    from the start); the notice does not bind them.
    """
    name = name_of(room.name)
    model.variable(f"v_{name}", "0..1", "0")
    model.choices.append((f"i_v_{name}", "0..1"))
    if room.starts is not None:
        model.begin_guard.append(f"i_v_{name} = {('empty', 'peopled').index(room.starts)}")
    model.begin.append(f"v_{name} := i_v_{name};")
    still, noticed = model.ticks(room.still_s), model.ticks(room.noticed_s)
    for point in watched(model, room):
        key = f"{name}_{name_of(point.name)}"
        model.variable(f"rm_{key}", "0..2", "0")
        model.variable(f"rc_{key}", f"0..{max(still, noticed)}", "0")
        if room.still_s is not None:
            seen = f"v_{name} = 1 & v_{name_of(point.name)} = 0"
            model.begin.append(f"if {seen} then rm_{key} := 2; end;")
        model.tick_guard.append(no(is_due(model, room, point)))
        model.tick.append(f"if rm_{key} != 0 then rc_{key} := rc_{key} + 1; end;")
        model.may_last.append(f"(rm_{key} = 0)")


def is_due(model: Model, room: Room, point: Point) -> str:
    """Whether a detector has to become occupied at this moment."""
    key = f"{name_of(room.name)}_{name_of(point.name)}"
    due = []
    if room.noticed_s is not None:
        due.append(f"(rm_{key} = 1 & rc_{key} = {model.ticks(room.noticed_s)})")
    if room.still_s is not None:
        due.append(f"(rm_{key} = 2 & rc_{key} = {model.ticks(room.still_s)})")
    return any_of(due)


def seen_lines(model: Model, point: Point) -> list[str]:
    """What a detector's change means to the rooms that it sees."""
    lines = []
    for room in model.job.rooms:
        if point.name not in room.seen_by:
            continue
        key = f"{name_of(room.name)}_{name_of(point.name)}"
        lines.append(f"rm_{key} := 0; rc_{key} := 0;")
        if room.still_s is not None:
            lines.append(f"if nv = 0 & v_{name_of(room.name)} = 1 then rm_{key} := 2; end;")
    return lines


def write_room_setter(model: Model, room: Room) -> None:
    """People come into the empty room, or the last one leaves."""
    name = name_of(room.name)
    lines = [f"old := v_{name};", f"v_{name} := nv;"]
    for point in watched(model, room):
        key = f"{name}_{name_of(point.name)}"
        lines.append(f"rm_{key} := 0; rc_{key} := 0;")
        if room.noticed_s is not None:
            vacant = f"v_{name_of(point.name)} = 0"
            lines.append(f"if nv = 1 & {vacant} then rm_{key} := 1; end;")
    lines += model.restart_lines(room.name, "old", "nv")
    lines += stay_lines(model, room.name, "old", "nv")
    lines += model.change(model.subject_event(room.name, "old", "nv"))
    model.procedure(f"set_room_{name}(nv: 0..1)", lines, "var old: 0..1; m: 0..255;\n")


def move_room(model: Model, room: Room) -> None:
    """People come and go while a way in is open (a roller door: unless lowered)."""
    name = name_of(room.name)
    ways = []
    for way in room.entered_by:
        if way in model.job.door:
            ways.append(f"(d_{name_of(way)} != {LOWERED})")
        else:
            ways.append(f"({model.current(way)} = 1)")
    other = f"(1 - v_{name})"
    guards = [any_of(ways) if ways else "true", may_leave(model, room.name, f"v_{name}", other)]
    guards.append(assumed(model, {room.name: other}))
    model.outside(f"{room.name} changes", all_of(guards), [f"set_room_{name}(1 - v_{name});"])


# ---------------------------------------------------------------- power cuts


def move_power(model: Model) -> None:
    """A power cut and the return of power, one happening (8)."""
    lines = [f"forget_{name_of(rule.name)}();" for rule in model.job.rules]
    for point in model.job.points:
        name = name_of(point.name)
        if point.kind.is_output and point.power_return != "last":
            value = model.last_index(point) if point.power_return == "on" else 0
            lines.append(f"set_{name}({value}, true);")
        elif point.kind is PointKind.FLAG and not point.retained:
            value = 0 if point.starts is None else model.index(point, point.starts)
            lines.append(f"set_{name}({value}, true);")
    for timer in model.rule_timers:
        name = model.timer(timer, True)
        lines.append(f"{name} := 0; {name}_out := false;")
    lines += model.change(model.just(PowerReturns()))
    model.outside("power cut", "true", lines)
