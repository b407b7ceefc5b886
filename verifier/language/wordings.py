"""Wordings that people bring along from elsewhere, each with what to write instead.

A table: the pattern of the line around the place where the grammar stopped, the code, message and hint.
"""

from __future__ import annotations

import re
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Mistake:
    """One wording: where its pattern matches the line around the token, this is said.

    ``block`` limits it to declarations that begin with that keyword, or to a place that
    ``verifier.language.mistakes`` knows (``STATEMENT``, ``CONDITION``, …). The label covers the group
    ``at`` of the pattern if there is one, else the whole match.
    """

    pattern: re.Pattern[str]
    code: str
    message: str
    hint: str
    block: str = ""


def _m(pattern: str, code: str, message: str, hint: str, block: str = "") -> Mistake:
    return Mistake(re.compile(pattern), code, message, hint, block)


MISTAKES: tuple[Mistake, ...] = (
    _m(
        r"^[ \t]*(?P<at>no[nt]?[-_ \t]?re[-_ ]?tri\w*)",
        "wording",
        "`{at}` is no word of the language",
        "Write `non-retriggerable`.",
        "RULE-HEAD",
    ),
    _m(
        r"^[ \t]*(?P<at>re[-_ ]?tri\w*)",
        "wording",
        "`{at}` is no word of the language",
        "Write `retriggerable`.",
        "RULE-HEAD",
    ),
    _m(
        r"^[ \t]*(?P<at>end[-_]?(?P<value>site|door|room|rule|if|repeat|run|require|usage|typical))\b",
        "wording",
        "`{at}` is written as two words",
        "Write `end {value}`.",
    ),
    _m(
        r"\b(?P<at>(?:dim|raise|lower)[ \t]+(?P<name>[\w.]+)[ \t]+(?:to[ \t]+)?(?P<value>\d+)[ \t]*%)",
        "wording",
        "a statement names the point first",
        "Write `{name} {value} %`.",
        "STATEMENT",
    ),
    _m(
        r"^[ \t]*(?P<at>(?P<name>[\w.]+)[ \t]+(?:is|becomes|goes|turns|to)[ \t]+"
        r"(?P<value>[a-z]\w*|\d+[ \t]*%))",
        "wording",
        "a statement names the point and its value, with nothing between",
        "Write `{name} {value}`.",
        "STATEMENT",
    ),
    _m(
        r"\b(?P<at>(?:times|once)[ \t]+(?:per|each|every)[ \t]+day|(?:times|once)[ \t]+daily)\b",
        "wording",
        "how often something happens is said for a day",
        "Write `times a day`, or `once a day`.",
        "USAGE",
    ),
    _m(
        r"\b(?P<at>(?:a|per|each|every)[ \t]+(?:hour|week|month|year))\b",
        "wording",
        "how often something happens is said for a day",
        "Write `0.5 times a day` for every other day, or `once a day on sat`.",
        "USAGE",
    ),
    _m(
        r"\b(?P<at>\d+[ \t]*x|twice|two|three|four|five|six|eight|ten|twelve|daily|often)\b",
        "wording",
        "how often something happens is a number and `times`",
        "Write `2 times a day`.",
        "USAGE",
    ),
    _m(
        r"(?P<at>\bfrom[ \t]+(?P<begin>\d{1,2}:\d\d)[ \t]+(?:to|until|till)[ \t]+(?P<end>\d{1,2}:\d\d))",
        "wording",
        "hours of the day stand after `between`",
        "Write `between {begin} and {end}`.",
        "USAGE",
    ),
    _m(
        r"^[ \t]*(?P<at>[\w.]+[ \t]+becomes[ \t]+\w+)[ \t]+(?:\d|once)",
        "wording",
        "for how long is missing",
        "Write `{at} for 10 s` before how often.",
        "USAGE",
    ),
    _m(
        r"^[ \t]*(?P<at>(?:(?:price|tariff|cost)\b|[aA1] [kK][wW][hH]\b).*?)[ \t]*$",
        "wording",
        "what a kilowatt-hour costs is said with these words",
        "Write `a kWh costs 0.30 GBP`.",
        "USAGE",
    ),
    _m(
        r"\b(?P<at>(?P<name>[\w.]+)[ \t]+(?:is[ \t]+)?open(?:s|ed))\b",
        "wording",
        "an event of a contact is `becomes open` or `becomes shut`",
        "Write `{name} becomes open`.",
        "EVENT",
    ),
    _m(
        r"\b(?P<at>(?P<name>[\w.]+)[ \t]+(?:is[ \t]+)?(?:close[sd]|shuts?))\b",
        "wording",
        "an event of a contact is `becomes open` or `becomes shut`",
        "Write `{name} becomes shut`.",
        "EVENT",
    ),
    _m(
        r"\b(?P<at>(?P<name>[\w.]+)[ \t]+(?:turns|goes|(?:is[ \t]+)?(?:turned|switched))[ \t]+"
        r"(?P<value>\w+))",
        "wording",
        "an event of a point is `becomes` and a value",
        "Write `{name} becomes {value}`.",
        "EVENT",
    ),
    _m(
        r"^[ \t]*upon\b.*?[ \t](?P<at>and|but only if|only if|if|when|while)\b",
        "not-provided",
        "a guard on the line of an event stands after `provided`",
        "Write `provided` for `{at}`.",
        "RULE-HEAD",
    ),
    _m(
        r"^[ \t]*(?P<at>at[ \t]+\d{1,2}:\d\d)",
        "not-upon",
        "an event that triggers a rule stands after `upon`",
        "Write `upon {at}`.",
        "RULE-HEAD",
    ),
    _m(
        r"\b(?:upon|when|last)[ \t]+(?P<at>\d{1,2}:\d\d)",
        "wording",
        "the event of a clock time begins with `at`",
        "Write `at {at}`.",
    ),
    _m(
        r"(?P<at>\bwithin)\b",
        "wording",
        "`within` belongs to the forms that begin with `when` or `after last`",
        "Write `when EVENT: CONDITION within DURATION`, or leave it out.",
        "LASTING",
    ),
    _m(
        r"(?P<at>\bfor)[ \t]+(?P<value>\d+(?:\.\d+)?[ \t]*(?:ms|s|min|h))\b",
        "wording",
        "how long something is to last stands after `for at least`",
        "Write `for at least {value}`.",
        "FOR",
    ),
    _m(
        r"\b(?P<at>(?:turn|switch|put)[ \t]+(?P<value>on|off)[ \t]+(?P<name>[\w.]+))",
        "wording",
        "a statement names the point first",
        "Write `{name} {value}`.",
    ),
    _m(
        r"\b(?P<at>(?:turn|switch|put)[ \t]+(?P<name>[\w.]+)[ \t]+(?P<value>on|off))\b",
        "wording",
        "a statement names the point first",
        "Write `{name} {value}`.",
    ),
    _m(
        r"\b(?P<at>set[ \t]+(?P<name>[\w.]+)[ \t]+(?:to|=)[ \t]*(?P<value>[\w.%]+(?:[ \t]*%)?))",
        "wording",
        "a statement names the point and its value, nothing else",
        "Write `{name} {value}`.",
    ),
    _m(
        r"^[ \t]*(?P<at>(?P<name>[\w.]+)[ \t]*(?::=|=)[ \t]*(?P<value>[\w.]+(?:[ \t]*%)?))[ \t]*(?:#.*)?$",
        "wording",
        "a statement names the point and its value, with nothing between",
        "Write `{name} {value}`.",
        "RULE",
    ),
    _m(
        r"\b(?P<at>wait[ \t]+(?:for|another)[ \t]+(?P<value>[\w.]+(?:[ \t]+[a-z]+)?))",
        "wording",
        "`wait` is followed by the duration itself",
        "Write `wait {value}`.",
    ),
    _m(
        r"\b(?P<name>[\w.]+)[ \t]+(?P<at>is[ \t]+not)[ \t]+(?P<value>\w+)",
        "wording",
        "`is not` is no phrase of the language: `not` stands before what it denies",
        "Write `not {name} is {value}`.",
    ),
    _m(
        r"\b(?P<name>[\w.]+)[ \t]*(?P<at>!=)[ \t]*(?P<value>\w+)",
        "wrong-operator",
        "`!=` is no word of the language",
        "Write `not {name} is {value}`.",
    ),
    _m(
        r"\b(?P<name>[\w.]+)[ \t]*(?P<at>==?)[ \t]*(?P<value>\w+)",
        "wrong-operator",
        "`{at}` is no word of the language",
        "Write `{name} is {value}`.",
    ),
    _m(r"(?P<at>&&?)", "wrong-operator", "`{at}` is no word of the language", "Write `and`."),
    _m(r"(?P<at>\|\|?)", "wrong-operator", "`{at}` is no word of the language", "Write `or`."),
    _m(
        r"(?P<at>!)[ \t]*(?P<name>[\w.]+)",
        "wrong-operator",
        "`!` is no word of the language",
        "Write `not`, for example `not {name} is on`.",
    ),
    _m(
        r"(?P<at>>=|<=|=<|=>|>|<)[ \t]*(?P<value>[\w.]*)",
        "wrong-operator",
        "`{at}` is no word of the language",
        "Levels are compared by `above`, `below`, `at least` and `at most`; durations by the forms.",
    ),
    _m(
        r"(?P<at>;)",
        "stray-character",
        "there are no semicolons: a new line ends a statement",
        "Delete it, and write each statement on a line of its own.",
    ),
    _m(
        r"(?P<at>[“”„«»‟])",
        "curly-quotes",
        "a label stands between straight quotation marks",
        'Write "…" with the straight mark ".',
    ),
    _m(
        r"(?P<at>['‘’`´][^'‘’`´]*['‘’`´]?)",
        "curly-quotes",
        "a label stands between double quotation marks",
        'Write "…" with the straight mark ".',
    ),
    _m(
        r'(?P<at>"[^"]*)$',
        "unclosed-label",
        "this label does not end on its line",
        'Write the closing ".',
    ),
    _m(
        r"(?P<at>//|/\*|--)",
        "stray-character",
        "`{at}` does not begin a comment",
        "A comment begins with `#`.",
    ),
    _m(
        r"(?P<at>[{{}}])",
        "stray-character",
        "there are no braces: blocks end in words",
        "A rule is `rule NAME … do … end rule`, a choice `if … then … end if`.",
    ),
    _m(
        r"\b(?P<at>(?P<name>[A-Za-z]\w*)-(?P<value>\w+))",
        "stray-character",
        "a name has no hyphen",
        "Write `{name}_{value}`.",
    ),
    _m(
        r"^[ \t]*(?P<at>elseif|elif|elsief|elsife)\b.*",
        "wording",
        "`{at}` is no word of the language",
        "Write `elsif`.",
    ),
    _m(
        r"^[ \t]*(?P<at>[Ww]hen|on|if)\b(?=.*\b(?:becomes|pressed|changes|begins|returns|starts|ends)\b)",
        "not-upon",
        "an event that triggers a rule stands after `upon`",
        "Write `upon` for `{at}`.",
        "RULE",
    ),
    _m(
        r"^[ \t]*(?P<at>(?:if|only if|only when|while|unless))\b",
        "not-provided",
        "the guard of a rule stands after `provided`",
        "Write `provided CONDITION` before `do`; `if … then` belongs behind `do`.",
        "RULE-HEAD",
    ),
    _m(
        r"^[ \t]*upon[ \t]+(?P<name>[\w.]+)[ \t]+(?P<at>is)[ \t]+(?P<value>\w+)",
        "state-as-event",
        "a rule is triggered by a change, not by a state",
        "Write `upon {name} becomes {value}`.",
        "RULE",
    ),
    _m(
        r"\b(?:when|last|before|or)[ \t]+(?P<name>[\w.]+)[ \t]+(?P<at>is)[ \t]+(?P<value>\w+)",
        "state-as-event",
        "an event is a change, not a state",
        "Write `{name} becomes {value}`.",
        "REQUIRE",
    ),
    _m(
        r"^[ \t]*upon\b.*?(?P<at>\bor)\b",
        "one-event-a-line",
        "each `upon` line has one event",
        "Write a second `upon` line; any of them triggers the rule.",
        "RULE-HEAD",
    ),
    _m(
        r"(?P<name>[\w.]+)[ \t]+(?P<at>becomes|turns|goes)[ \t]+(?P<value>\w+)",
        "event-as-state",
        "a condition asks what is so, not what changes",
        "Write `{name} is {value}`.",
        "CONDITION",
    ),
    _m(
        r"\bwait[ \t]+until\b.*?(?P<at>(?:(?:,[ \t]*)?(?:\bat[ \t]+most|\bmax|\bfor[ \t]+at[ \t]+most"
        r"|\bup[ \t]+to|\bor)|,)[ \t]+(?P<value>\d+[ \t]*\w+))",
        "wording",
        "the limit of a `wait until` stands after a comma",
        "Write `wait until CONDITION, at most {value}`.",
    ),
    _m(
        r"(?P<at>(?P<name>\d+),(?P<value>\d+)[ \t]*(?:ms|s|min|h|W|deg|%))",
        "bad-figure",
        "a decimal figure is written with a full stop",
        "Write `{name}.{value}`.",
    ),
    _m(
        r"(?P<at>(?P<name>\d+(?:\.\d+)?)[ \t]+(?P<value>[A-Za-z]+))",
        "bad-figure",
        "`{value}` is no unit",
        "Units: ms, s, min, h; % for levels; W and kW for power; deg for angles.",
        "FIGURE",
    ),
    _m(
        r"(?P<at>(?P<name>\d+(?:\.\d+)?)[ \t]+(?P<value>(?!to|of|on|at|or|in|x)[A-Za-z]{1,2}))\b",
        "bad-figure",
        "`{value}` is no unit",
        "Units: ms, s, min, h; % for levels; W and kW for power; deg for angles.",
        "NUMBER",
    ),
)
