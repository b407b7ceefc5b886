"""What a tester is told to do, for each happening; and what to have at hand."""

from __future__ import annotations

from verifier.model.job import Job, PointKind

_INPUTS = {
    (PointKind.CONTACT, "open"): "Open {}",
    (PointKind.CONTACT, "shut"): "Shut {}",
    (PointKind.LIMIT, "reached"): "Make {} read reached",
    (PointKind.LIMIT, "clear"): "Make {} read clear",
    (PointKind.DETECTOR, "occupied"): "Move in sight of {}",
    (PointKind.DETECTOR, "vacant"): "Keep out of sight of {} until it shows nobody",
    (PointKind.SWITCH, "on"): "Turn {} on",
    (PointKind.SWITCH, "off"): "Turn {} off",
    (PointKind.PHOTOCELL, "dark"): "Cover {}",
    (PointKind.PHOTOCELL, "bright"): "Uncover {}",
}
_DOORS = {
    "starts to go up": "Start {} up",
    "starts to go down": "Start {} down",
    "arrives at the top": "Wait until {} has arrived at the top",
    "arrives at the bottom": "Wait until {} has arrived at the bottom",
    "stops part way": "Stop {} part way",
}
_ALONE = {
    "night begins": "Make it night for the controller: cover its photocell, or set its clock",
    "day begins": "Make it day for the controller: uncover its photocell, or set its clock back",
    "power fails and returns": "Switch the supply off at the breaker, and on again",
}


def instruction(job: Job, what: str) -> str:
    """What to do so that something happens, in a sentence; points by their label.

    >>> from verifier.model.job import Job
    >>> instruction(Job("", None, (), (), (), (), (), (), ()), "power fails and returns")
    'Switch the supply off at the breaker, and on again'
    """
    if what in _ALONE:
        return _ALONE[what]
    for door in job.doors:
        rest = what.removeprefix(f"{door.name} ")
        if rest != what and rest in _DOORS:
            return _DOORS[rest].format(_quoted(door.label or door.name))
    for room in job.rooms:
        name = _quoted(room.label or room.name)
        if what == f"somebody comes into {room.name}":
            return f"Go into {name}"
        if what == f"the last one leaves {room.name}":
            return f"Leave {name}, so that nobody is in it"
    subject, _, rest = what.partition(" ")
    point = job.point.get(subject)
    if point is None:
        return what
    name = _quoted(point.label or point.name)
    if rest == "pressed":
        return f"Press {name}"
    if rest.endswith("by hand"):
        return f"Switch {name} {'on' if ' on ' in f' {rest} ' else 'off'} by hand, at the lamp"
    value = rest.removeprefix("becomes ")
    form = _INPUTS.get((point.kind, value))
    return what if form is None else form.format(name)


def equipment(job: Job) -> tuple[str, ...]:
    """What to have at hand."""
    found = ["A watch that shows seconds, and this sheet with the points schedule."]
    kinds = {point.kind for point in job.points}
    if PointKind.PHOTOCELL in kinds or any("night" in a for a in _reads(job)):
        found.append("Something that lets no light through, to cover the photocell.")
    if job.doors:
        found.append("A second person at the door's own stop, who sees its whole way.")
    return tuple(found)


def _reads(job: Job) -> list[str]:
    from verifier.model.words import trigger_words

    return [trigger_words(trigger) for rule in job.rules for trigger in rule.triggers]


def _quoted(name: str) -> str:
    return f"“{name}”"
