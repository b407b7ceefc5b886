"""The client's report: what was promised, what holds and on what ground, what fails and why.

Client pages first, in plain words and with the labels of the points; the engineer's appendix
after, with names, lines and all that it takes to make the report again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from verifier.diagnostics import Severity
from verifier.explain.clock_words import ClockTold
from verifier.explain.explained import Explained
from verifier.explain.figures import counted, listed, moment
from verifier.explain.labels import labels_of, with_labels
from verifier.explain.plain import plain_condition, read_back
from verifier.explain.story import Story
from verifier.front.diagnostic_text import in_order
from verifier.front.drives_svg import drives_svg
from verifier.front.graph_page import DRIVES_TITLE, drives_table, rule_section
from verifier.front.page import cautions, text
from verifier.front.reason import method, reason
from verifier.front.result_places import line_of
from verifier.front.result_text import headline
from verifier.front.timing_svg import timing_svg
from verifier.graph.build import build_graph
from verifier.graph.dead import dead_parts
from verifier.graph.rows import drives_of
from verifier.handover.coverage import coverage_of
from verifier.handover.fingerprint import fingerprint_of
from verifier.handover.unchecked import unchecked
from verifier.model.job import AssumeAlways, Assumption, Job, Requirement
from verifier.model.words import assumption_words, fault_words, requirement_words
from verifier.pipeline import Result
from verifier.proof.verdict import Answered, Proved, Refuted, Undecided, Verdict
from verifier.surroundings.calendar import reads_calendar

_CLASS = {"good": "good", "bad": "bad", "doubt": "open", "strong": "good"}


@dataclass(frozen=True, slots=True)
class Report:
    """What a report is made of: the result of a job, and what is told of each failing requirement.

    ``extra`` are further sections (title, HTML), energy for one; ``made`` the day it is made.
    """

    result: Result
    job: Job
    told: tuple[Explained, ...]
    folder: str
    made: date
    extra: tuple[tuple[str, str], ...] = ()


def report_title(report: Report) -> str:
    """The title of the page."""
    site = report.job.site
    return f"Lighting rules of {report.job.name if site is None else site.name}: what was proved"


def report_body(report: Report) -> str:
    """The body of the page."""
    labels = labels_of(report.job)

    def say(words: str) -> str:
        return text(with_labels(words, labels))

    parts = [
        _head(report),
        _promises(report, say),
        _failing(report, say),
        _assumed(report, say),
        _unchecked(report, say),
        *(f"<section><h2>{text(title)}</h2>{body}</section>" for title, body in report.extra),
        cautions(),
        '<section class="appendix"><h1>Engineer’s appendix</h1>',
        _grounds(report),
        _coverage(report),
        _graphs(report),
        _findings(report),
        _reproduce(report),
        _rules(report),
        "</section>",
    ]
    return "\n".join(part for part in parts if part)


# ---------------------------------------------------------------- for the client


def _head(report: Report) -> str:
    verdicts = [verdict for _, verdict, _ in report.result.verdicts]
    holds = sum(_holds(v) for v in verdicts)
    fails = len(report.told)
    words = f"{holds} of {counted(len(verdicts), 'promise')} {'holds' if holds == 1 else 'hold'}"
    if fails:
        words += f", {fails} {'fails' if fails == 1 else 'fail'}"
    rest = len(verdicts) - holds - fails
    if rest:
        words += f", {rest} {'is' if rest == 1 else 'are'} open"
    day = report.made
    ground = (
        "A promise that holds was proved: it holds in every case that is possible with what is "
        "assumed below, for any length of time. A promise that fails comes with a case in which "
        "it does."
    )
    return (
        f"<h1>{text(report_title(report))}</h1>"
        f'<p class="small">Made on {day.day} {day:%B %Y} by Duskproof.</p>'
        f'<p class="lead"><strong>{text(words)}.</strong></p><p>{text(ground)}</p>'
    )


def _holds(verdict: Verdict) -> bool:
    match verdict:
        case Proved():
            return not verdict.vacuous
        case Answered(bound_s):
            return bound_s is not None and bound_s != "unbounded"
        case _:
            return False


def _word(requirement: Requirement, verdict: Verdict) -> tuple[str, str, str]:
    """Mark, plain word and class of a verdict."""
    match verdict:
        case Refuted() | Answered("unbounded"):
            return "✗", "fails", "bad"
        case Proved(vacuous=True) | Answered(vacuous=True):
            return "○", "never called on", "open"
        case Proved():
            return "✓", "holds", "good"
        case Answered():
            return "=", "measured", "good"
        case Undecided():
            return "?", "open", "open"


def _promises(report: Report, say: Callable[[str], str]) -> str:
    rows = []
    failing = {each.requirement.name for each in report.told}
    for number, (requirement, verdict, _) in enumerate(report.result.verdicts, 1):
        mark, word, style = _word(requirement, verdict)
        result = f'<span class="word {style}"><span aria-hidden="true">{mark}</span> {word}</span>'
        if requirement.name in failing:
            result += f'<br><a href="#case-{text(requirement.name)}">see the case</a>'
        elif isinstance(verdict, Answered | Undecided) or (
            isinstance(verdict, Proved) and (verdict.vacuous or verdict.bound_s is not None)
        ):
            result += f"<br>{say(reason(requirement, verdict))}"
        label = f"<strong>{text(requirement.label)}</strong><br>" if requirement.label else ""
        back = read_back(requirement, report.job)
        plain = text(back.text if requirement.allowing_s else back.sentence)
        rows.append(
            f'<tr><th scope="row">{number}</th><td>{label}{plain}</td><td>{result}</td></tr>'
        )
    return (
        "<section><h2>What was promised</h2>"
        '<table class="stacked"><thead><tr><th scope="col">No.</th><th scope="col">Promise</th>'
        f'<th scope="col">Result</th></tr></thead><tbody>{"".join(rows)}</tbody></table></section>'
    )


def _failing(report: Report, say: Callable[[str], str]) -> str:
    if not report.told:
        return ""
    parts = ["<section><h2>What fails, and how</h2>"]
    for each in report.told:
        name = each.requirement.name
        label = each.requirement.label or name
        parts.append(f'<article id="case-{text(name)}"><h3>{text(label)}</h3>')
        if each.story is None:
            parts.append(f"<p>{say(reason(each.requirement, each.verdict))}</p></article>")
            continue
        parts.append(story_html(each.story, say, label))
        if each.contrast is not None:
            parts.append(
                f"<p><strong>The nearest case that goes well.</strong> {say(each.contrast.words)}</p>"
            )
        parts.append("</article>")
    parts.append("</section>")
    return "\n".join(parts)


def story_html(story: Story, say: Callable[[str], str], label: str) -> str:
    """A story as HTML: title sentence, picture, the instants as a table, what made it fail.

    ``label`` is what it stands under.
    """
    heading = text(f"Picture: {label}")
    begins = "" if story.run.clock is None else f" {text(ClockTold(story.run.clock).begins())}"
    start = f"At the start: {', '.join(story.start) or 'all at rest'}."
    rows = []
    for each in story.moments:
        at = moment(each.at_s, each.just_after) + (f" ({each.clock})" if each.clock else "")
        now = ", ".join(each.changes)
        by = listed(tuple(dict.fromkeys(r.rule for r in each.reactions)))
        rows.append(
            f'<tr><th scope="row">{each.number}</th><td>{text(at)}</td><td>{say(each.what)}</td>'
            f'<td>{say(now)}</td><td class="rule">{text(by)}</td></tr>'
        )
    causes = "".join(
        f"<li><strong>({text(c.letter)})</strong> {text(c.at)}: {say(c.words)}"
        f"{'; ' + say(c.because) if c.because else ''}</li>"
        for c in story.causes
    )
    needs = f"<p>{text(story.needs)}</p>" if story.needs else ""
    table = (
        '<table class="stacked"><caption>What happens</caption><thead><tr><th scope="col">Instant</th>'
        '<th scope="col">When</th><th scope="col">What happens</th><th scope="col">What is so then</th>'
        f'<th scope="col">Rule</th></tr></thead><tbody>{"".join(rows)}</tbody></table>'
    )
    return (
        f"<p><strong>{say(story.title)}</strong>{begins}</p>"
        f'<figure><div class="scroll" tabindex="0" role="region" aria-label="{heading}">'
        f"{timing_svg(story.diagram)}</div>"
        f"<figcaption>{say(start)} {text(story.ends)}</figcaption></figure>"
        + (table if rows else "")
        + (f'<p>What made it fail:</p><ul class="causes">{causes}</ul>' if causes else "")
        + needs
    )


def _assumed(report: Report, say: Callable[[str], str]) -> str:
    job = report.job
    items = [f"<li>{_assumption(job, a, say)}</li>" for a in job.assumptions]
    items.extend(f"<li>{say(_door(job, d.name))}</li>" for d in job.doors)
    items.extend(f"<li>{say(words)}</li>" for r in job.rooms for words in _room(job, r.name))
    if job.site is not None and job.site.latitude_deg is not None and reads_calendar(job):
        first, last = job.years
        items.append(
            f"<li>Sun and clock are those of the site, for the years {first} to {last}.</li>"
        )
    faults = [fault_words(fault) for fault in job.faults]
    considered = f"Considered: {listed(tuple(faults))}." if faults else "No fault was considered."
    assumed = f"<ul>{''.join(items)}</ul>" if items else "<p>Nothing was assumed.</p>"
    return (
        f"<section><h2>What was assumed</h2>{assumed}</section>"
        f"<section><h2>Which faults were considered</h2><p>{say(considered)}</p></section>"
    )


def _assumption(job: Job, assumption: Assumption, say: Callable[[str], str]) -> str:
    match assumption:
        case AssumeAlways(condition):
            return text(f"It is always so that {plain_condition(condition, job)}.")
        case _:
            return say(f"{assumption_words(assumption).removeprefix('assume ')}.")


def _door(job: Job, name: str) -> str:
    door = job.door[name]
    return (
        f"{name} takes {moment(door.travel_least_s, False)} to {moment(door.travel_most_s, False)} "
        "for its way, and may stop anywhere on it."
    )


def _room(job: Job, name: str) -> list[str]:
    room = job.room[name]
    found = []
    if room.entered_by:
        found.append(f"People come into {name} by {listed(room.entered_by, 'or')} only.")
    if room.seen_by and room.noticed_s is not None:
        found.append(
            f"Whoever comes into {name} is noticed within {moment(room.noticed_s, False)} by "
            f"{'each of ' if len(room.seen_by) > 1 else ''}{listed(room.seen_by)}."
        )
    if room.still_s is not None:
        found.append(f"Nobody in {name} keeps still for longer than {moment(room.still_s, False)}.")
    return found


def _unchecked(report: Report, say: Callable[[str], str]) -> str:
    items = "".join(
        f"<li>{say(line)}</li>" for line in unchecked(report.job, report.result.verdicts)
    )
    return f"<section><h2>What was not checked</h2><ul>{items}</ul></section>"


# ---------------------------------------------------------------- for the engineer


def _grounds(report: Report) -> str:
    rows = []
    for requirement, verdict, seconds in report.result.verdicts:
        mark, word, style = headline(verdict)
        rows.append(
            f'<tr><th scope="row"><code>{text(requirement.name)}</code><br>'
            f"{text(line_of(requirement.span, report.result.sources))}</th>"
            f'<td><span class="word {_CLASS[style]}">{mark} {text(word.lower())}</span></td>'
            f"<td><code>{text(requirement_words(requirement))}</code></td>"
            f"<td>{text(reason(requirement, verdict))} {text(method(verdict))}"
            f'<br><span class="small">{seconds:.2f} s</span></td></tr>'
        )
    return (
        "<h2>Verdicts and their grounds</h2>"
        "<p>Proved: an inductive invariant with six conditions, each answered “unsat” by every solver "
        "named. Refuted: a run that the reference interpreter replayed on the whole job.</p>"
        '<table class="stacked"><thead><tr><th scope="col">Requirement</th><th scope="col">Verdict</th>'
        '<th scope="col">What it demands</th><th scope="col">Ground</th></tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table>" + _blames(report)
    )


def _blames(report: Report) -> str:
    """Which single rule has to do with each failing case."""
    rows = [
        f'<tr><th scope="row"><code>{text(each.requirement.name)}</code></th>'
        f"<td>{text(blame.words)}</td>"
        f"<td>{text(line_of(blame.span, report.result.sources))}</td></tr>"
        for each in report.told
        for blame in each.blames
    ]
    if not rows:
        return ""
    return (
        '<h2>Which rule has to do with it</h2><table class="stacked"><thead><tr><th scope="col">'
        'Case</th><th scope="col">It goes well …</th><th scope="col">Place</th></tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table>"
        '<p class="small">Tried on the case alone; a change of the rules has to be proved.</p>'
    )


def _coverage(report: Report) -> str:
    asked = tuple(requirement for requirement, _, _ in report.result.verdicts)
    lines = coverage_of(report.job, asked)
    rows = []
    for line in lines:
        names = ", ".join(line.requirements) if line.requirements else "— none"
        rows.append(
            f'<tr><th scope="row">{text(line_of(line.span, report.result.sources))}</th>'
            f"<td>{text(line.rule)}</td><td><code>{text(line.words)}</code></td><td>{text(names)}</td></tr>"
        )
    bare = sum(not line.requirements for line in lines)
    said = (
        "Every line of the rules has a part in some verdict."
        if not bare
        else f"{counted(bare, 'line has', 'lines have')} no part in any verdict: whatever "
        f"{'it says' if bare == 1 else 'they say'}, the results are the same."
    )
    return (
        f"<h2>Which lines each verdict rests on</h2><p>{text(said)}</p>"
        '<table class="stacked"><thead><tr><th scope="col">Place</th><th scope="col">Rule</th>'
        '<th scope="col">Line</th><th scope="col">Requirements</th></tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table>"
    )


def _graphs(report: Report) -> str:
    """Who drives what, and each rule, as pictures with their tables."""
    graph = build_graph(report.job)
    dead = dead_parts(report.job, report.result.findings)
    drives = drives_of(report.job, dead)
    rules = "".join(rule_section(graph, rule, dead) for rule in report.job.rules)
    return (
        f'<h2>{DRIVES_TITLE}</h2><figure class="graph">{drives_svg(drives)}'
        "<figcaption>Who drives what; the table says the same.</figcaption></figure>"
        f"{drives_table(drives)}{rules}"
    )


def _findings(report: Report) -> str:
    found = in_order(report.result.sources, report.result.findings)
    if not found:
        return ""
    items = "".join(
        f"<li><strong>{f.severity.value}</strong> "
        f"{text(line_of(f.labels[0].span, report.result.sources))}: {text(f.message)} "
        f"<code>[{text(f.code)}]</code>"
        f"{f'<br>{text(f.hint)}' if f.hint else ''}</li>"
        for f in found
        if f.severity is not Severity.ERROR
    )
    return f"<h2>Findings about the rules</h2><ul>{items}</ul>"


def _reproduce(report: Report) -> str:
    made = fingerprint_of(report.result.sources)
    files = "".join(
        f"<dt>{text(name)}</dt><dd><code>{digest}</code></dd>" for name, digest in made.files
    )
    versions = listed(tuple(f"{name} {version}" for name, version in made.versions))
    folder = report.folder
    first, last = report.job.years
    years = f" --years {first}-{last}" if reads_calendar(report.job) else ""
    commands = (
        f"duskproof prove {folder}{years} --certificates proofs\n"
        f"duskproof check-certificate proofs --rules {folder}\n"
        f"duskproof explain {folder}\n"
        f"duskproof report {folder} -o report.html"
    )
    return (
        f"<h2>How to make this again</h2><p>Made with {text(versions)}.</p>"
        f"<pre>{text(commands).replace('&#x27;', chr(39))}</pre>"
        "<p>The text that was judged, by its SHA-256 (lines end in a line feed):</p>"
        f"<dl>{files}<dt>all of them</dt><dd><code>{made.whole}</code></dd></dl>"
    )


def _rules(report: Report) -> str:
    parts = ["<h2>The job as it was judged</h2>"]
    for file in report.result.sources.files:
        lines = file.text.rstrip("\n").split("\n")
        numbered = "\n".join(f"{n:>4}  {text(line)}" for n, line in enumerate(lines, 1))
        parts.append(f"<h3>{text(file.name)}</h3><pre>{numbered}</pre>")
    return "\n".join(parts)
