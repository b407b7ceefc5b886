"""What is told of the word under the pointer, in plain words (Markdown)."""

from __future__ import annotations

from verifier.explain.plain import read_back
from verifier.explain.plain_rules import plain_rule
from verifier.front.editor.completion import values_of
from verifier.front.editor.jobs import MARKS, Known, Reading
from verifier.graph.access import condition_names, events_names, requirement_names
from verifier.language.formatter import scoped_text
from verifier.language.library import library
from verifier.model.job import Job, Point, Rule, read_by_rule, statements_of
from verifier.model.job import set_by as point_set_by
from verifier.model.mentions import Declared, Mention, Mentions
from verifier.model.words import clock_time, duration, level, requirement_words

WORDS = {
    "retriggerable": "A trigger while the rule runs drops the run and starts a new one.",
    "non-retriggerable": "A trigger while the rule runs is dropped: the run goes on as it was.",
    "upon": "What triggers the rule: a change. Any one of its `upon` lines does.",
    "provided": "A guard: read once, when the trigger is handled. If it is false the trigger is dropped.",
    "becomes": "A change: only the moment at which it comes to be so. What is so already is no change.",
    "is": "A state: what is so now, however long it has been.",
    "changes": "Any change of the point, whichever way.",
    "wait": "The run rests here. Everything else goes on.",
    "until": "After `wait`: the run rests until it is so; if it is so already it does not wait.",
    "cancel": "Ends the runs of a rule, and drops its triggers that wait.",
    "always": "True at every settled moment of every possible run.",
    "never": "False at every settled moment of every possible run.",
    "allowing": "A gap no longer than this does not count; of a longer one all of it counts.",
    "within": "At that moment still counts; later does not.",
    "implies": "`A implies B`: whenever A is so, B is so as well. Of moments without A nothing is said.",
    "possible": "Some run reaches it: a check that the rules are not too strict.",
    "measure": "A question: the exact longest time, over all runs.",
    "assume": "What the surroundings are taken never to do. Proofs hold only where it is true.",
    "consider": "A fault that may happen. Without it nothing fails.",
    "holds": "Once occupied it stays so for at least this long.",
    "rearm": "Once vacant it stays so for at least this long.",
    "still": "The longest time that a person stays without being seen to move.",
    "noticed": "How soon somebody is seen who comes into the empty room.",
    "retained": "The flag outlives a power cut.",
    "wireless": "Its reports can be lost, if that is considered.",
    "fade": "Moves a dimmer in a straight line; the run rests until it is there.",
    "travel": "How long a full run takes, limit to limit: at least, and at most.",
    "night": "By the site's sun; without a site night and day change at any time.",
}
"""What the words of the language mean, a sentence each; the reference has the rest."""


def hover_of(
    mention: Mention, mentions: Mentions, reading: Reading, states: tuple[Known, ...]
) -> str:
    """What is told of a name."""
    symbol = mention.symbols[0]
    declared = mentions.declared[symbol][0]
    lines = [_head(declared)]
    name = symbol.name
    if symbol.inside and symbol.group != "parameter":
        lines.append(f"In the typical `{symbol.inside}`.")
    whole = _full_name(reading.job, symbol.inside, name, symbol.group)
    if symbol.group == "requirement":
        lines.extend(_requirement(reading.job, whole, states))
    elif symbol.group == "thing":
        lines.extend(_thing(declared, reading.job, whole))
    elif symbol.group == "standard":
        lines.extend(_standard(name))
    elif symbol.group == "parameter" and declared.label:
        lines.append(f"A parameter of `{symbol.inside}`.")
    elif symbol.group == "place":
        typicals = mentions.typicals_at(symbol.inside, name)
        lines.append(f"A place to which {', '.join(f'`{each}`' for each in typicals)} is applied.")
    return "\n\n".join(lines)


def _head(declared: Declared) -> str:
    label = f" “{_escaped(declared.label)}”" if declared.label else ""
    return f"**{declared.symbol.name}**: {declared.kind}{label}"


def _escaped(text: str) -> str:
    return "".join(f"\\{letter}" if letter in "\\`*_{}[]<>()#+-!|" else letter for letter in text)


def _full_name(job: Job | None, inside: str, name: str, group: str) -> str:
    """The name in the checked job: of what stands in a typical the first that was made of it."""
    if job is None or not inside:
        return name
    known = job.requirement if group == "requirement" else _things(job)
    return next((each for each in known if each.endswith(f".{name}")), name)


def _things(job: Job) -> tuple[str, ...]:
    found = (job.points, job.doors, job.rooms, job.rules, job.settings)
    return tuple(each.name for group in found for each in group)


def _requirement(job: Job | None, name: str, states: tuple[Known, ...]) -> list[str]:
    lines = []
    for known in states:
        if known.name == name:
            lines.append(f"{MARKS[known.state]} {state_words(known)}")
    if job is not None and name in job.requirement:
        told = read_back(job.requirement[name], job)
        lines.extend([_escaped(told.sentence), *(_escaped(each.strip()) for each in told.exactly)])
        lines.append(f"```duskproof\n{requirement_words(job.requirement[name])}\n```")
    return lines


def state_words(known: Known) -> str:
    """The state of a requirement as a few words for people."""
    told = known.told
    match known.state:
        case "stale":
            return "stale: not judged as the text is now; save to prove"
        case "running" if told is not None:
            return "proved so far; the rest of the job is still being judged"
        case "running":
            return "being proved …"
        case "proved" if told is not None and told["vacuous"]:
            return f"proved, but it never came into play: {told['reason']}"
        case "proved" if told is not None and told["answer"]:
            return f"answered: {told['answer']}"
        case "proved":
            return "proved for all runs"
        case "failed":
            return f"fails: {told['reason'] if told else ''}"
        case _:
            return f"undecided: {told['reason'] if told else ''}"


def _thing(declared: Declared, job: Job | None, name: str) -> list[str]:
    lines = []
    values = values_of(declared.kind)
    if declared.kind == "button":
        lines.append("An event: `pressed`.")
    elif declared.kind == "dimmer":
        lines.append("Can be `off`, or at 1 % to 100 %.")
    elif values and declared.kind != "rule":
        lines.append(f"Can be {' or '.join(f'`{value}`' for value in values)}.")
    if job is None:
        return lines
    if name in job.point:
        lines.extend(_point(job.point[name]))
    if name in job.rule:
        lines.extend(_rule(job.rule[name], job))
    for setting in job.settings:
        if setting.name == name:
            shown = {
                "duration": duration(setting.value),
                "level": level(setting.value),
                "clock time": clock_time(int(setting.value)),
            }
            lines.append(f"A {setting.kind}: {shown[setting.kind]}.")
    lines.extend(_who(job, name))
    return lines


def _standard(name: str) -> list[str]:
    """What a standard requirement of the library says, where it comes from, and what to mind."""
    for each in library():
        if each.name.text == name:
            read = {"seen": "read", "quoted": "as quoted elsewhere", "memory": "from memory"}
            sources = [
                f"Modelled on {_escaped(source.clause.text)}"
                f" ({read.get(source.read, 'common practice')})."
                for source in each.sources
            ]
            return [
                f"```duskproof\n{scoped_text(each.scoped)}\n```",
                *sources,
                *(f"Applies to {_escaped(text)}" for text in each.remarks("applies to")),
                *(f"Mind: {_escaped(text)}" for text in each.remarks("caution")),
            ]
    return []


def _rule(rule: Rule, job: Job) -> list[str]:
    said = plain_rule(rule, job)
    steps = "\n".join(
        f"{'  ' * step.depth}- {step.number} {_escaped(step.words)}" for step in said.steps
    )
    told = [_escaped(each) for each in (*said.begins, said.again, *said.exactly) if each]
    return [*told[: len(said.begins)], steps, *told[len(said.begins) :]]


def _point(point: Point) -> list[str]:
    said = []
    if point.wired is not None:
        said.append(f"wired {point.wired}")
    if point.wireless:
        said.append("wireless")
    if point.holds_s is not None:
        said.append(f"stays occupied at least {duration(point.holds_s)}")
    if point.rearm_s is not None:
        said.append(f"stays vacant at least {duration(point.rearm_s)}")
    if point.local_switch:
        said.append("can be switched at the lamp itself")
    if point.kind.is_output:
        said.append(f"on power return: {point.power_return}")
    if point.retained:
        said.append("retained over a power cut")
    if point.starts is not None:
        start = point.starts if isinstance(point.starts, str) else level(point.starts)
        said.append(f"starts {start}")
    if not said:
        return []
    text = "; ".join(said)
    return [f"{text[0].upper()}{text[1:]}."]


_MOST = 12


def _who(job: Job, name: str) -> list[str]:
    """Which rules set and read it, which requirements speak of it."""
    sets, reads = [], []
    for rule in job.rules:
        if any(point_set_by(s) == name for s in statements_of(rule.body)):
            sets.append(rule.name)
        if name in _read(rule):
            reads.append(rule.name)
    asked = [r.name for r in job.requirements if name in requirement_names(r)]
    lines = []
    for words, names in (("Set by", sets), ("Read by", reads), ("In requirements", asked)):
        if names:
            more = " …" if len(names) > _MOST else ""
            lines.append(f"{words}: {', '.join(f'`{each}`' for each in names[:_MOST])}{more}")
    return lines


def _read(rule: Rule) -> frozenset[str]:
    conditions, events = read_by_rule(rule)
    return events_names(events).union(*(condition_names(each) for each in conditions))
