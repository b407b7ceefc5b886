"""Further small jobs with verdicts worked out by hand, each with the sentence of the contract.

They came from mutation testing: each fails if one line of the trusted core says something else.
By the prover and by the exhaustive search, which share the reference interpreter and no engine.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.meaning.test_meaning import in_words
from verifier.graph.slice import slice_job
from verifier.model import check
from verifier.model.job import Job
from verifier.proof.decide import decide
from verifier.proof.verdict import Proved
from verifier.simulate.explicit import search
from verifier.source import SourceFile, Sources

LIT = """
button push "Push-button"
lamp light "Light" 10 W
rule lit
  retriggerable
  upon push pressed
  do
    light on
    wait 30 s
    light off
end rule
"""

CASES: dict[str, tuple[str, str, Any]] = {
    # Meaning 14: "an E counts if C holds at the settled end of its instant". The press puts the
    # light on, so at the end of its instant the scope has ended: no press ever counts.
    "a measured event that ends its own scope": (
        LIT,
        "while light is off: measure longest: light is on after last push pressed",
        ["answered", None],
    ),
    "the same without a scope": (
        LIT,
        "measure longest: light is on after last push pressed",
        ["answered", 30.0],
    ),
    # A level that the dimmer never has is never reached: it is no change of another kind.
    "an event at a level that is never set": (
        'button push "Push"\ndimmer hall "Hall" 10 W\nlamp sign "Sign" 5 W\n'
        "rule dim\n  retriggerable\n  upon push pressed\n  do\n    hall 40 %\n    wait 1 s\n"
        "    hall off\nend rule\n"
        "rule tell\n  retriggerable\n  upon hall becomes 60 %\n  do\n    sign on\nend rule\n",
        "never: sign is on",
        "proved",
    ),
    "a claim about a level that is never set": (
        'button push "Push"\ndimmer hall "Hall" 10 W\n'
        "rule dim\n  retriggerable\n  upon push pressed\n  do\n    hall 40 %\nend rule\n",
        "when hall becomes 60 %: hall is off within 1 s",
        "proved/vacuous",
    ),
    # "Its whole length counts, also beyond the end of what is judged": the light is lit for 2 s, off
    # for 2 s, and the scope ends after the first of those; that gap is filled, so it is 3 s in scope.
    "a gap in which the scope ends": (
        'button push "Push"\nflag scope "Scope"\nlamp light "Light" 10 W\nrule once\n'
        "  non-retriggerable\n  upon push pressed\n  do\n    scope yes\n    light on\n"
        "    wait 2 s\n    light off\n    wait 1 s\n    scope no\n    wait 1 s\n    light on\n"
        "    wait 1 s\n    light off\n    wait 10 s\nend rule\n",
        "while scope is yes: no longer than 2 s: light is on\n  allowing 2 s",
        "refuted",
    ),
    "a gap in which the scope ends, and that is too long to be filled": (
        'button push "Push"\nflag scope "Scope"\nlamp light "Light" 10 W\nrule once\n'
        "  non-retriggerable\n  upon push pressed\n  do\n    scope yes\n    light on\n"
        "    wait 2 s\n    light off\n    wait 1 s\n    scope no\n    wait 1 s\n    light on\n"
        "    wait 1 s\n    light off\n    wait 10 s\nend rule\n",
        "while scope is yes: no longer than 2 s: light is on\n  allowing 1 s",
        "proved",
    ),
    # Meaning 8: "lamps go to their `on power return` value"; on is 100 % (10: a dimmer to 100 %).
    "a dimmer that comes back full": (
        'button push "Push"\ndimmer hall "Hall" 10 W on power return on\nconsider power cuts\n'
        "rule dim\n  retriggerable\n  upon push pressed\n  do\n    hall 40 %\nend rule\n",
        "never: hall at least 100 %",
        "refuted",
    ),
    # Meaning 14: "the end of C drops what is pending, counted or measured". Else the time would go on
    # from the push to a light that the other button puts on, however much later.
    "a scope that ends drops what is measured": (
        LIT.replace("  retriggerable", "  non-retriggerable")
        .replace("  upon push pressed", "  upon push pressed\n  upon other pressed")
        .replace("lamp light", 'button other "Other"\nlamp light'),
        "while light is on: measure longest: light is on after last push pressed",
        ["answered", 30.0],
    ),
    # Meaning 3: "each start or end of a run is a change".
    "a rule hears another start": (
        'contact gate "Gate" starts shut\n'
        'button push "Push"\n'
        'lamp light "Light" 10 W\n'
        'lamp bell "Bell" 10 W\n'
        'lamp sign "Sign" 10 W\n'
        'flag seen "Seen"\n'
        "rule ring\n"
        "  upon push pressed\n"
        "  do\n"
        "    bell on\n"
        "end rule\n"
        "rule lit\n"
        "  upon ring starts\n"
        "  do\n"
        "    light on\n"
        "end rule\n",
        "when push pressed: light is on within 1 s",
        "proved",
    ),
    # Meaning 2: "lamp off and on again inside one instant was never dark".
    "off and on again in one instant is no end of a stretch": (
        'contact gate "Gate" starts shut\n'
        'button push "Push"\n'
        'lamp light "Light" 10 W starts on\n'
        'lamp bell "Bell" 10 W\n'
        'lamp sign "Sign" 10 W\n'
        'flag seen "Seen"\n'
        "rule off\n"
        "  upon push pressed\n"
        "  do\n"
        "    light off\n"
        "end rule\n"
        "rule again\n"
        "  upon light becomes off\n"
        "  do\n"
        "    light on\n"
        "end rule\n",
        "no shorter than 10 s: light is on",
        "proved",
    ),
    # The form: "whenever a trigger of R has been handled".
    "another rule's trigger is none of this one's": (
        'contact gate "Gate" starts shut\n'
        'button push "Push"\n'
        'lamp light "Light" 10 W\n'
        'lamp bell "Bell" 10 W\n'
        'lamp sign "Sign" 10 W\n'
        'flag seen "Seen"\n'
        "rule ring\n"
        "  upon push pressed\n"
        "  do\n"
        "    bell on\n"
        "end rule\n"
        "rule lit\n"
        "  upon gate becomes open\n"
        "  do\n"
        "    light on\n"
        "end rule\n",
        "every trigger of ring leads to bell is on or light is off",
        "proved",
    ),
    # Meaning 3: "a change triggers a rule at most once"; here there are two changes.
    "two changes of one instant trigger a rule twice": (
        'contact gate "Gate" starts shut\n'
        'button push "Push"\n'
        'lamp light "Light" 10 W\n'
        'lamp bell "Bell" 10 W\n'
        'lamp sign "Sign" 10 W\n'
        'flag seen "Seen"\n'
        "rule begin\n"
        "  upon push pressed\n"
        "  do\n"
        "    light on\n"
        "    bell on\n"
        "end rule\n"
        "rule look\n"
        "  upon bell becomes on\n"
        "  upon light becomes on\n"
        "  do\n"
        "    if seen is no then\n"
        "      seen yes\n"
        "    else\n"
        "      sign on\n"
        "    end if\n"
        "end rule\n",
        "never: sign is on",
        "refuted",
    ),
    # Meaning 4: "in every possible order". The second pulse comes only if the light is still off.
    "an order in which more is counted": (
        'contact gate "Gate" starts shut\n'
        'button push "Push"\n'
        'lamp light "Light" 10 W\n'
        'lamp bell "Bell" 10 W\n'
        'lamp sign "Sign" 10 W\n'
        'flag seen "Seen"\n'
        "assume gate stays shut at least 2 s\n"
        "rule lit\n"
        "  upon gate becomes open\n"
        "  do\n"
        "    light on\n"
        "end rule\n"
        "rule pulses\n"
        "  upon gate becomes open\n"
        "  do\n"
        "    bell on\n"
        "    bell off\n"
        "    if light is off then\n"
        "      bell on\n"
        "      bell off\n"
        "    end if\n"
        "end rule\n"
        "rule look\n"
        "  upon light becomes on\n"
        "  do\n"
        "    sign on\n"
        "end rule\n",
        "at most 2 times in 1 s: bell becomes on or sign becomes on",
        "refuted",
    ),
    # Meaning 4: the light is put on for a second time only before the bell rings.
    "an order in which a wait begins anew": (
        'contact gate "Gate" starts shut\n'
        'button push "Push"\n'
        'lamp light "Light" 10 W\n'
        'lamp bell "Bell" 10 W\n'
        'lamp sign "Sign" 10 W\n'
        'flag seen "Seen"\n'
        "rule ring\n"
        "  upon gate becomes open\n"
        "  do\n"
        "    bell on\n"
        "end rule\n"
        "rule lit\n"
        "  retriggerable\n"
        "  upon push pressed provided light is off\n"
        "  upon gate becomes open provided bell is off\n"
        "  do\n"
        "    light on\n"
        "    wait 30 s\n"
        "    light off\n"
        "end rule\n",
        "no longer than 30 s: light is on",
        "refuted",
    ),
    # Meaning 8: "after a power cut no run goes on".
    "a power cut ends every wait": (
        'contact gate "Gate" starts shut\n'
        'button push "Push"\n'
        'lamp light "Light" 10 W on power return on\n'
        'lamp bell "Bell" 10 W\n'
        'lamp sign "Sign" 10 W\n'
        'flag seen "Seen"\n'
        "consider power cuts\n"
        "rule lit\n"
        "  non-retriggerable\n"
        "  upon push pressed\n"
        "  do\n"
        "    light on\n"
        "    wait 30 s\n"
        "    sign on\n"
        "    wait 30 s\n"
        "    light off\n"
        "end rule\n",
        "when power returns: not lit is running within 1 s",
        "proved",
    ),
    # Meaning 8: "every run, waiting trigger and fade is gone". Flags that are not retained begin
    # anew too, so after a cut the sign comes on with the second push, and not with the first.
    "a power cut drops what waits": (
        'contact gate "Gate" starts shut\n'
        'button push "Push"\n'
        'lamp sign "Sign" 10 W\n'
        'flag seen "Seen"\n'
        'flag once "Pushed once"\n'
        'flag twice "Pushed twice"\n'
        "consider power cuts\n"
        "rule lit\n"
        "  at once 1, waiting 1\n"
        "  upon push pressed\n"
        "  do\n"
        "    if seen is yes then\n"
        "      sign on\n"
        "    end if\n"
        "    seen yes\n"
        "    if gate is open then\n"
        "      wait 30 s\n"
        "    end if\n"
        "end rule\n"
        "rule tally\n"
        "  upon push pressed\n"
        "  do\n"
        "    if once is yes then\n"
        "      twice yes\n"
        "    end if\n"
        "    once yes\n"
        "end rule\n",
        "never: sign is on and twice is no",
        "proved",
    ),
    "a dimmer that comes back off": (
        'button push "Push"\ndimmer hall "Hall" 10 W on power return off\nconsider power cuts\n'
        "rule dim\n  retriggerable\n  upon push pressed\n  do\n    hall 40 %\nend rule\n",
        "never: hall above 40 %",
        "proved",
    ),
}


def job_with(text: str, form: str) -> Job:
    whole = f"{text}require asked\n  {form}\nend require\n"
    job, told = check(Sources((SourceFile("job.dusk", whole),)), "job")
    assert job is not None, told
    return job


@pytest.mark.parametrize("case", CASES)
def test_the_prover_gives_the_verdict(case: str) -> None:
    text, form, verdict = CASES[case]
    job = job_with(text, form)
    assert in_words(decide(job, job.requirements[0])) == verdict


@pytest.mark.parametrize("case", CASES)
def test_the_exhaustive_search_gives_the_verdict(case: str) -> None:
    text, form, verdict = CASES[case]
    job = job_with(text, form)
    requirement = job.requirements[0]
    found = search(slice_job(job, requirement), requirement, 50_000)
    plain = verdict if isinstance(verdict, str) else verdict[0]
    assert found.verdict == plain.split("/")[0]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        # Meaning 16: "a stretch that an assumption bounds" is no state that may last, and the door
        # is always in one.
        (
            'contact door "Door" starts shut\nlamp light "Light" 10 W\n'
            "assume door stays open at most 5 s\nassume door stays shut at most 5 s\n"
            "rule lit\n  non-retriggerable\n  upon door becomes open\n  do\n    light on\n"
            "    wait 1 s\n    light off\nend rule\n",
            "no state that may last follows a trigger of the rule",
        ),
        (
            LIT.replace("  do\n", "  provided light is on\n  do\n"),
            "no trigger of the rule is ever handled with its guard true",
        ),
    ],
)
def test_why_a_leads_to_never_comes_into_play(text: str, why: str) -> None:
    job = job_with(text, "every trigger of lit leads to light is off")
    verdict = decide(job, job.requirements[0])
    assert isinstance(verdict, Proved)
    assert verdict.vacuous
    assert verdict.vacuous_because.startswith(why)
