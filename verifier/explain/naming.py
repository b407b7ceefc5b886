"""What things are called in sentences: by their labels where they have one that tells them apart."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

from verifier.model.job import Job, PointKind

_BEFORE = re.compile(
    r"\s+(?:above|after|along|at|behind|below|beside|between|by|for|from|in|into|near|next|of|off|"
    r"on|out|outside|over|to|under|with|without)\s.*",
    re.IGNORECASE,
)
"""From the first of these words on, a label says where the thing is: its noun stands before."""

_NOUNS = {
    PointKind.LIMIT: "limit switch",
    PointKind.BUTTON: "push-button",
    PointKind.DIMMER: "light",
    PointKind.LAMP: "light",
}

_SINGULAR = ("ss", "us", "is", "as", "'s", "’s")
_ARTICLES = ("the ", "a ", "an ", "our ", "every ", "each ", "all ")


@dataclass(frozen=True, slots=True)
class Named:
    """What a thing is called in a sentence (``the bay lights``), and whether that is plural."""

    words: str
    plural: bool

    def verb(self, one: str, many: str) -> str:
        """The name with its verb.

        >>> Named("the bay lights", True).verb("is", "are")
        'the bay lights are'
        """
        return f"{self.words} {many if self.plural else one}"


def named(job: Job, name: str) -> Named:
    """What a point, door, room or rule is called.

    A label that two things share is followed by the name in parentheses; without a label the name
    stands for itself. Rules, flags and maintained switches are quoted, as their labels are often
    sentences.
    """
    label = _labels(job).get(name, "")
    if not label:
        return Named(f"the rule {name}" if name in job.rule else name, False)
    twice = Counter(_labels(job).values())[label] > 1
    after = f" ({name})" if twice else ""
    point = job.point.get(name)
    if name in job.rule:
        return Named(f"the rule “{label}”{after}", False)
    if point is not None and point.kind is PointKind.FLAG:
        return Named(f"the note “{label}”{after}", False)
    if point is not None and point.kind is PointKind.SWITCH:
        return Named(f"“{label}”{after}", False)
    short = _short(label, frozenset(_labels(job).values()))
    if "," in short:
        return Named(f"“{short}”{after}", is_plural(short))
    if _BEFORE.match(f" {short}") and point is not None:
        # "At the door" says where a lamp is, not what.
        where = short[0].lower() + short[1:] if short[1:2].islower() else short
        return Named(f"the {_NOUNS.get(point.kind, point.kind.value)} {where}{after}", False)
    return Named(f"{with_article(short)}{after}", is_plural(short))


def _labels(job: Job) -> dict[str, str]:
    found: dict[str, str] = {}
    for things in (job.points, job.doors, job.rooms, job.rules):
        for thing in things:
            found[thing.name] = " ".join(thing.label.split())
    return found


def _short(label: str, all_labels: frozenset[str]) -> str:
    """The label without what stands after a colon, where that tells nothing apart."""
    head = label.split(":")[0].strip()
    same = sum(other == head or other.split(":")[0].strip() == head for other in all_labels)
    return head if head and same == 1 else label


def with_article(label: str) -> str:
    """A label inside a sentence.

    >>> with_article("Bay lights"), with_article("PIR over the bench"), with_article("The lamp")
    ('the bay lights', 'the PIR over the bench', 'the lamp')
    >>> with_article("Otter Reach lamp"), with_article("Lamp 3"), with_article("Beacon")
    ('the Otter Reach lamp', 'the lamp 3', 'the beacon')
    """
    words = label.split(" ")
    first = words[0]
    is_word = first[:1].isupper() and (first[1:].islower() or first in ("A", "I"))
    proper = len(words) > 1 and words[1][:1].isupper() and not words[1].isupper()
    if is_word and not proper:
        label = label[0].lower() + label[1:]
    return label if label.lower().startswith(_ARTICLES) else f"the {label}"


def is_plural(label: str) -> bool:
    """Whether a label names several things, going by the form of its noun.

    >>> is_plural("Bay lights"), is_plural("Lights over the bench"), is_plural("Light for guests")
    (True, True, False)
    >>> is_plural("Boat glass"), is_plural("Bus"), is_plural("PIR")
    (False, False, False)
    """
    noun = _BEFORE.sub("", label).split(" ")[-1].rstrip(".,;)")
    return noun.endswith("s") and not noun.endswith(_SINGULAR) and len(noun) > 2


def value_words(job: Job, subject: str, value: str) -> str:
    """A value as a client reads it in a picture or a table: ``sees somebody`` for ``occupied``.

    >>> from tests.random_jobs import point
    >>> pir = point("pir", PointKind.DETECTOR)
    >>> job = Job("j", None, (pir,), (), (), (), (), (), ())
    >>> value_words(job, "pir", "occupied"), value_words(job, "sun", "night")
    ('sees somebody', 'night')
    """
    point = job.point.get(subject)
    if point is not None and point.kind is PointKind.DETECTOR:
        return {"occupied": "sees somebody", "vacant": "sees nobody"}[value]
    if subject in job.room:
        return {"peopled": "somebody inside", "empty": "empty"}[value]
    if subject in job.door:
        return {"raised": "fully up", "lowered": "fully down", "stopped": "part way"}.get(
            value, value
        )
    return value
