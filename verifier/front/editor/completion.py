"""What can be written at a place: words by the grammar, names by what fits there, values by their thing."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from verifier.language.expected import DECLARATIONS, word_of
from verifier.language.lexer import NEWLINE, Token
from verifier.language.parser import SIZE_LIMIT
from verifier.language.unfinished import Unfinished, unfinished
from verifier.model.job import DOOR_VALUES, ROOM_VALUES, PointKind
from verifier.model.mentions import Declared, Mentions

Sort = Literal["word", "name", "value", "figure", "block"]


@dataclass(frozen=True, slots=True)
class Offer:
    """Something that can be written: the text, what sort it is, and a few words about it.

    ``block`` is the text of a whole block with ``$1``, ``$2``, … where one goes on writing.
    """

    text: str
    sort: Sort
    about: str = ""
    block: str = ""


@dataclass(frozen=True, slots=True)
class Offers:
    """What can be written instead of the last ``length`` characters before the place."""

    length: int
    offers: tuple[Offer, ...]


_INPUTS = frozenset(kind.value for kind in PointKind if kind.is_input)
_OUTPUTS = frozenset(kind.value for kind in PointKind if kind.is_output)
_SEEN = (_INPUTS | _OUTPUTS | {"flag"}) - {"button"}
_BEYOND = frozenset({"door", "room"})

_LONGEST_LINE = 2000
"""Characters of a line; nobody writes on at the end of a longer one."""

_WORD = re.compile(r"[A-Za-z0-9_.\-]*\Z")
_PHRASE = re.compile(r"(?:[a-z]+[ \t]+){1,2}[A-Za-z0-9_.\-]*\Z")
_IN_LABEL = re.compile(r'^[^"#\n]*(?:"[^"\n]*"[^"#\n]*)*"[^"\n]*\Z')
_IN_COMMENT = re.compile(r'^[^"#\n]*(?:"[^"\n]*"[^"#\n]*)*#')

_BLOCKS = {
    "rule": 'rule ${1:name} "${2:What it does}"\n  retriggerable\n  upon ${3:EVENT}\n  do\n    $0\nend rule',
    "require": 'require ${1:name} "${2:What was promised}"\n  ${0:always: CONDITION}\nend require',
    "door": 'door ${1:name} "${2:Door}"\n  raised  by ${3:LIMIT}\n  lowered by ${4:LIMIT}\n'
    "  travel ${5:12 s} to ${6:20 s}\nend door",
    "room": 'room ${1:name} "${2:Room}"\n  entered by ${3:CONTACT}\n  seen by ${4:DETECTOR}\nend room',
    "typical": "typical ${1:name}\n  $0\nend typical",
    "if": "if ${1:CONDITION} then\n  $0\nend if",
    "repeat": "repeat\n  $0\nuntil ${1:CONDITION}\nend repeat",
}
"""What a block is made of, for the words that begin one."""

_FIGURES = {
    "duration": ("30 s", "1 min", "5 min"),
    "level": ("30 %", "60 %", "100 %"),
    "clock": ("06:00", "22:30"),
}


def offers_at(text: str, mentions: Mentions) -> Offers:
    """What can be written at the end of a text; ``mentions`` are those of the whole job."""
    line = text[text.rfind("\n") + 1 :]
    if len(text) > SIZE_LIMIT or len(line) > _LONGEST_LINE:
        return Offers(0, ())
    if _IN_COMMENT.match(line) or _IN_LABEL.match(line):
        return Offers(0, ())
    phrase = _PHRASE.search(line)
    if phrase is not None:
        for start in [m.start() for m in re.finditer(r"[a-z]+[ \t]+", phrase.group())]:
            said = phrase.group()[start:]
            place = unfinished(text[: len(text) - len(said)])
            known = " ".join(said.split()) + (" " if said[-1] in " \t" else "")
            found = [word for word in _words(place) if " " in word and word.startswith(known)]
            if found and known.count(" "):
                return Offers(len(said), tuple(Offer(word, "word") for word in found))
    word = _WORD.search(line)
    typed = "" if word is None else word.group()
    place = unfinished(text[: len(text) - len(typed)])
    return Offers(len(typed), tuple(dict.fromkeys(_at(place, mentions))))


def _words(place: Unfinished) -> list[str]:
    """The keywords that can follow."""
    found = []
    for kind in sorted(place.usable):
        shown = word_of(kind)
        if shown.startswith("`") and shown[1].isalpha():
            found.append(shown.strip("`"))
    return found


def _at(place: Unfinished, mentions: Mentions) -> list[Offer]:
    found: list[Offer] = []
    if "NAME" in place.usable or "NO" in place.usable:
        found.extend(_names(place, mentions))
    if "FIGURE" in place.usable or "CLOCK" in place.usable:
        found.extend(_figures(place, mentions))
    if {"LABEL"} == place.usable:
        found.append(Offer('""', "value", "a label", '"$0"'))
    words = _words(place)
    if not place.tokens:
        words = [word for word in DECLARATIONS if word in words] + [
            word for word in words if word not in DECLARATIONS
        ]
    for word in words:
        if word == "no" and place.last in ("IS", "BECOMES", "STAYED", "STARTS", "STAYS", "NAME"):
            continue  # a value there, offered with the others of its thing
        found.append(Offer(word, "word"))
        if word in _BLOCKS and (place.in_body or not place.tokens or _begins_inner(place)):
            found.append(Offer(word, "block", f"{word} … ", _BLOCKS[word]))
    return found


def _begins_inner(place: Unfinished) -> bool:
    """Whether a declaration inside a typical begins here."""
    return bool(place.typical) and place.last in ("", "TYPICAL", NEWLINE)


# ---------------------------------------------------------------- names


def _names(place: Unfinished, mentions: Mentions) -> list[Offer]:
    """The names (and words of values) that fit, or nothing where a new name is to be invented."""
    tokens = [token for token in place.tokens if token.kind != NEWLINE]
    last = tokens[-1] if tokens else None
    before = tokens[-2] if len(tokens) > 1 else None
    if last is None:
        return []
    if last.kind in ("IS", "BECOMES", "STAYED", "STAYS", "READS") and before is not None:
        return _values(_subject(tokens), place, mentions)
    if last.kind == "STARTS":
        return _values(tokens[1] if len(tokens) > 1 else None, place, mentions)
    if place.in_body and last.kind == "NAME" and _begins_statement(place):
        return _values(last, place, mentions)
    match last.kind, place.block:
        case ("APPLY", _):
            return _of_group("typical", mentions)
        case ("TO" | "COMMA", "APPLY"):
            with_said = any(token.kind == "WITH" for token in tokens)
            return _settings_of(tokens[1].text, mentions) if with_said else []
        case ("WITH", "APPLY"):
            return _settings_of(tokens[1].text, mentions)
        case ("AS", "REQUIRE"):
            return _of_group("standard", mentions)
        case ("WITH" | "COMMA", "REQUIRE") if any(token.kind == "AS" for token in tokens):
            standard = next(t for t, p in zip(tokens[1:], tokens, strict=False) if p.kind == "AS")
            return [
                Offer(each.symbol.name, "name", each.label or "parameter")
                for symbol, (each, *_) in mentions.declared.items()
                if symbol.group == "parameter" and symbol.inside == standard.text
            ]
        case ("NORMALLY", _):
            return [Offer("open", "value"), Offer("closed", "value")]
        case ("RETURN", _):
            return [Offer(word, "value") for word in ("off", "on", "last")]
        case _:
            wanted = _wanted(place, tokens)
            return _of_kinds(wanted, place, mentions) if wanted else []


def _begins_statement(place: Unfinished) -> bool:
    """Whether the last name stands where a statement begins: a point that is set."""
    behind = place.tokens[-2].kind if len(place.tokens) > 1 else ""
    return behind in (NEWLINE, "DO", "THEN", "ELSE", "REPEAT")


def _wanted(place: Unfinished, tokens: list[Token]) -> frozenset[str]:
    """The kinds of thing whose names fit."""
    last, block = tokens[-1].kind, place.block
    beyond = frozenset() if block == "RULE" else _BEYOND
    match last:
        case "CANCEL":
            return frozenset({"rule"})
        case "OF" if block == "REQUIRE":
            return frozenset({"rule"})
        case "FADE":
            return frozenset({"dimmer"})
        case "BY" if block == "DOOR":
            return frozenset({"switch" if tokens[-2].kind == "MOVING" else "limit"})
        case "BY" | "COMMA" if block == "ROOM":
            entered = any(token.kind == "ENTERED" for token in tokens[-6:])
            seen = [t.kind for t in tokens if t.kind in ("ENTERED", "SEEN")]
            if seen and seen[-1] == "SEEN":
                return frozenset({"detector"})
            return frozenset({"contact", "door"}) if entered else frozenset({"detector"})
        case "UPON" | "WHEN" | "LAST" | "BEFORE":
            return _SEEN | beyond | {"button", "rule"}
        case "COLON" if any(token.kind == "TIMES" for token in tokens):
            return _SEEN | beyond | {"button", "rule"}
        case "OR" if "BECOMES" in place.usable or _in_events(tokens):
            return _SEEN | beyond | {"button", "rule"}
        case "_BOTH_LIMITS_OF":
            return frozenset({"door"})
        case "_LOST_REPORTS_OF" | "_BOUNCE_OF" | "_BROKEN_WIRE_OF" | "CONSIDER":
            return _INPUTS
        case "ASSUME":
            return (_INPUTS - {"button"}) | _BEYOND
        case _ if place.in_body and _is_statement_place(place):
            return _OUTPUTS | {"flag"}
        case _ if block == "ASSUME":
            return (_INPUTS - {"button"}) | _BEYOND
        case _ if block == "USAGE":
            return _INPUTS | _OUTPUTS | {"door"}
        case _ if block in ("RULE", "REQUIRE") and "NIGHT" in place.usable:
            return _SEEN | beyond | {"rule"}
        case _:
            return frozenset()


def _in_events(tokens: list[Token]) -> bool:
    """Whether events are being listed: the colon that ends them has not come."""
    for token in reversed(tokens):
        if token.kind == "COLON":
            return False
        if token.kind in ("WHEN", "LAST", "BEFORE"):
            return True
    return False


def _is_statement_place(place: Unfinished) -> bool:
    return "WAIT" in place.usable or "FADE" in place.usable


def _subject(tokens: list[Token]) -> Token | None:
    """The name of which a value is being said."""
    for token in reversed(tokens[:-1]):
        if token.kind == "NAME":
            return token
        if token.kind not in ("HAS", "STAYED"):
            break
    return tokens[1] if tokens[-1].kind == "READS" and len(tokens) > 1 else None


def _seen(place: Unfinished, mentions: Mentions) -> list[tuple[str, Declared]]:
    """All names that can be written here, those of places dotted."""
    found: list[tuple[str, Declared]] = []
    todo = [("", each, 0) for each in mentions.seen_from(place.typical)]
    while todo:
        prefix, each, depth = todo.pop(0)
        if each.symbol.group == "thing":
            found.append((prefix + each.symbol.name, each))
            continue
        if depth > 3:
            continue
        for typical in mentions.typicals_at(each.symbol.inside, each.symbol.name):
            inner = [
                places[0]
                for symbol, places in mentions.declared.items()
                if symbol.inside == typical
            ]
            behind = f"{prefix}{each.symbol.name}."
            todo.extend(
                (behind, one, depth + 1) for one in inner if one.symbol.group in ("thing", "place")
            )
    return found


def _of_kinds(kinds: frozenset[str], place: Unfinished, mentions: Mentions) -> list[Offer]:
    return [
        Offer(name, "name", f"{each.kind} “{each.label}”" if each.label else each.kind)
        for name, each in _seen(place, mentions)
        if each.kind in kinds
    ]


def _of_group(group: str, mentions: Mentions) -> list[Offer]:
    return [
        Offer(symbol.name, "name", places[0].label or places[0].kind)
        for symbol, places in mentions.declared.items()
        if symbol.group == group
    ]


def _settings_of(typical: str, mentions: Mentions) -> list[Offer]:
    return [
        Offer(symbol.name, "name", "setting")
        for symbol, places in mentions.declared.items()
        if symbol.inside == typical and places[0].kind == "setting"
    ]


# ---------------------------------------------------------------- values and figures


def _values(token: Token | None, place: Unfinished, mentions: Mentions) -> list[Offer]:
    """The values that a thing can have."""
    if token is None:
        return []
    own = place.tokens[0].text
    if own in {kind.value for kind in PointKind} or place.block in ("DOOR", "ROOM"):
        starts = ("raised", "lowered", "anywhere") if own == "door" else values_of(own)
        return [Offer(word, "value") for word in starts]
    for name, each in _seen(place, mentions):
        if name == token.text:
            words = [Offer(word, "value") for word in values_of(each.kind)]
            if each.kind == "dimmer":
                words.extend(Offer(level, "figure") for level in _FIGURES["level"])
            return words
    return []


def values_of(kind: str) -> tuple[str, ...]:
    """The words that a thing of a kind can be.

    >>> values_of("contact"), values_of("rule")
    (('shut', 'open'), ('running',))
    """
    match kind:
        case "door":
            return DOOR_VALUES
        case "room":
            return ROOM_VALUES
        case "rule":
            return ("running",)
        case _:
            known = {each.value: each.values for each in PointKind}
            return known.get(kind, ())


def _figures(place: Unfinished, mentions: Mentions) -> list[Offer]:
    """Settings, and a few figures as an example of how one is written."""
    last = place.last
    if last in (
        "WAIT",
        "FOR",
        "WITHIN",
        "LEAST",
        "MOST",
        "THAN",
        "IN",
        "OVER",
        "ALLOWING",
        "HOLDS",
        "REARM",
    ):
        sort = "duration"
        if last in ("LEAST", "MOST") and place.tokens[-3:-2] and place.tokens[-3].kind == "NAME":
            sort = "level"
    elif last in ("ABOVE", "BELOW") or (last == "TO" and place.in_body):
        sort = "level"
    elif last in ("AT", "BETWEEN") or (last == "AND" and place.block in ("REQUIRE", "RULE")):
        sort = "clock"
    else:
        return []
    if "CLOCK" not in place.usable and sort == "clock":
        return []
    settings = [
        Offer(name, "name", "setting")
        for name, each in _seen(place, mentions)
        if each.kind == "setting"
    ]
    return [*settings, *(Offer(figure, "figure") for figure in _FIGURES[sort])]
