"""The guarded-transition graph of a job and the graph of who drives what, as networkx graphs."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Literal

from verifier.graph.access import CLOCK, POWER, SUN, event_name, rule_access
from verifier.graph.flow import ENDLESS, IDLE, Place, flow_of
from verifier.graph.transitions import Transition, transitions_of
from verifier.model.job import Job, Rule, RuleEnds, RuleStarts

if TYPE_CHECKING:
    import networkx

Node = tuple[str, int]
"""The rule and the number of the place."""

Drive = Literal["triggers", "guards", "is read by", "sets", "fades", "cancels", "starts", "ends"]
"""How one thing drives another; ``starts`` and ``ends``: its start or end is a trigger."""


def build_graph(job: Job) -> networkx.MultiDiGraph[Node]:
    """The guarded-transition graph: one component for each rule, in declared order.

    Shape: nodes ``(rule, number)`` with the attribute ``place`` (:class:`Place`); edges with
    the attribute ``transition`` (:class:`Transition`), keyed by their number among the rule's.
    A trigger's edges leave from ``idle``: each run is a token of its own. What happens to a
    trigger while the rule is running is the graph's attribute ``rules``: the rules by name.
    """
    import networkx

    graph: networkx.MultiDiGraph[Node] = networkx.MultiDiGraph(name=job.name)
    graph.graph["rules"] = {rule.name: rule for rule in job.rules}
    for rule in job.rules:
        flow = flow_of(rule)
        for place in flow.places:
            graph.add_node((rule.name, place.number), place=place)
        for number, transition in enumerate(transitions_of(job, rule, flow)):
            if transition.target == ENDLESS and (rule.name, ENDLESS) not in graph:
                endless = Place(rule.name, ENDLESS, None, rule.span)
                graph.add_node((rule.name, ENDLESS), place=endless)
            source, target = (rule.name, transition.source), (rule.name, transition.target)
            graph.add_edge(source, target, key=number, transition=transition)
    return graph


def places_of(graph: networkx.MultiDiGraph[Node]) -> tuple[Place, ...]:
    """The places of a graph, by rule and number."""
    return tuple(place for _, place in graph.nodes(data="place"))


def transitions_in(graph: networkx.MultiDiGraph[Node]) -> tuple[Transition, ...]:
    """The transitions of a graph, by rule and in order of the text."""
    rules: dict[str, Rule] = graph.graph["rules"]
    order = {name: position for position, name in enumerate(rules)}
    found = [(order[t.rule], key, t) for _, _, key, t in graph.edges(keys=True, data="transition")]
    return tuple(t for _, _, t in sorted(found, key=lambda item: item[:2]))


def unreachable_places(graph: networkx.MultiDiGraph[Node]) -> tuple[Place, ...]:
    """The places that no way from idle leads to."""
    import networkx

    rules: dict[str, Rule] = graph.graph["rules"]
    reached: set[Node] = set()
    for name in rules:
        reached.add((name, IDLE))
        reached |= networkx.descendants(graph, (name, IDLE))
    return tuple(place for node, place in graph.nodes(data="place") if node not in reached)


def drives(job: Job) -> networkx.MultiDiGraph[str]:
    """Who drives what: names of points, rules, doors and rooms, edges with the attribute ``how``.

    An edge leads from what drives to what is driven: from a point to the rule that it triggers
    or that reads it, from a rule to the point that it sets. Doors and rooms ``set`` their
    switches and detectors. Sun, clock and power stand under their pseudo-names.
    """
    import networkx

    graph: networkx.MultiDiGraph[str] = networkx.MultiDiGraph(name=job.name)
    kinds = (("point", job.points), ("door", job.doors), ("room", job.rooms), ("rule", job.rules))
    for kind, items in kinds:
        for item in items:
            graph.add_node(item.name, kind=kind)

    def drive(source: str, target: str, how: Drive) -> None:
        if source in (SUN, CLOCK, POWER):
            graph.add_node(source, kind="shared")
        if not graph.has_edge(source, target, key=how):
            graph.add_edge(source, target, key=how, how=how)

    for door in job.doors:
        for switch in (door.raised_by, door.lowered_by, door.moving_by):
            if switch is not None:
                drive(door.name, switch, "sets")
    for room in job.rooms:
        for detector in room.seen_by:
            drive(room.name, detector, "sets")
        for entry in room.entered_by:
            drive(entry, room.name, "is read by")
    for rule in job.rules:
        _drive_rule(rule, drive)
    return graph


def _drive_rule(rule: Rule, drive: Callable[[str, str, Drive], None]) -> None:
    access = rule_access(rule)
    for trigger in rule.triggers:
        match trigger.event:
            case RuleStarts(name):
                drive(name, rule.name, "starts")
            case RuleEnds(name):
                drive(name, rule.name, "ends")
            case event:
                drive(event_name(event), rule.name, "triggers")
    reads: tuple[tuple[frozenset[str], Drive], ...] = (
        (access.guards, "guards"),
        (access.body, "is read by"),
    )
    for names, how in reads:
        for name in sorted(names):
            drive(name, rule.name, how)
    writes: tuple[tuple[frozenset[str], Drive], ...] = (
        (access.puts, "sets"),
        (access.fades, "fades"),
        (access.cancels, "cancels"),
    )
    for names, how in writes:
        for name in sorted(names):
            drive(rule.name, name, how)
