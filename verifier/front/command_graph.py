"""`duskproof graph`: the rules, or who drives what, as text, drawing or page."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from difflib import get_close_matches
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from verifier.diagnostics import Diagnostic, Label, Severity
from verifier.front.console import FOLDER, checked, rule_names, say, tell, years_from_now
from verifier.front.written import NotWritten, write_whole
from verifier.source import Span

if TYPE_CHECKING:
    from verifier.graph.dead import Dead
    from verifier.model.job import Job
    from verifier.pipeline import Result

Form = Literal["text", "dot", "mermaid", "svg", "html"]


@click.command("graph")
@FOLDER
@click.option(
    "--what",
    type=click.Choice(["rules", "drives"]),
    default="rules",
    show_default=True,
    help="The ways of each rule, or who drives what.",
)
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "dot", "mermaid", "svg", "html"]),
    default="text",
    show_default=True,
)
@click.option(
    "--rule",
    "names",
    multiple=True,
    metavar="NAME",
    shell_complete=rule_names,
    help="Draw this rule only.",
)
@click.option("--prove", "by_proof", is_flag=True, help="Find by proof, too, what never happens.")
@click.option(
    "-o",
    "path",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write it there.",
)
def command(
    folder: str, what: str, form: Form, names: tuple[str, ...], by_proof: bool, path: Path | None
) -> int:
    """Show the rules of a job as graphs: places and ways, or who drives what.

    What never happens is marked, with its reason: by the structure of the rules, and with --prove
    by proof as well. html is a page of pictures, each with a table that says the same.

    \b
    Example:
      duskproof graph specs/boathouse --rule bench_light
    """
    result = checked(folder)
    if result.job is None or result.rejected:
        return tell((result,), "text", False)
    unknown = [name for name in names if name not in result.job.rule]
    if unknown:
        problem = _unknown_rule(unknown[0], result.job)
        return tell((replace(result, findings=(problem,)),), "text", False)
    dead = _dead(result, result.job, by_proof)
    made = _made(result.job, what, form, names, dead)
    if path is None:
        say(made.rstrip("\n"))
        return 0
    try:
        write_whole(path, made.encode("utf-8"))
    except NotWritten as refused:
        return tell((replace(result, findings=(refused.args[0],)),), "text", False)
    say(f"The graph is in {path}.")
    return 0


def _dead(result: Result, job: Job, by_proof: bool) -> Dead:
    """What never happens, by the structure and if it is asked for by proof."""
    from verifier.graph.dead import dead_parts
    from verifier.graph.findings import findings

    if not by_proof:
        return dead_parts(job, findings(job))
    from verifier.front.progress import working
    from verifier.pipeline import Question, judged

    job = replace(job, years=years_from_now())
    workers = min(os.cpu_count() or 1, 8)
    question = Question(time_limit_s=Fraction(60), workers=workers)
    with working(sys.stderr) as doing:
        doing("looking by proof for what never happens …")
        proved = judged(result, job, question, _unheard)
    if proved.interrupted:
        raise KeyboardInterrupt
    return dead_parts(job, proved.findings)


def _unheard(*_: object) -> None:
    """Nothing is told of requirements: none is asked."""


def _made(job: Job, what: str, form: Form, names: tuple[str, ...], dead: Dead) -> str:
    """The graph in the form that was asked for."""
    return _drives(job, form, names, dead) if what == "drives" else _rules(job, form, names, dead)


def _drives(job: Job, form: Form, names: tuple[str, ...], dead: Dead) -> str:
    from verifier.graph.rows import drives_of

    drives = drives_of(job, dead, names)
    if form == "html":
        from verifier.front.graph_page import DRIVES_TITLE, drives_body
        from verifier.front.page import page

        return page(f"{DRIVES_TITLE}: {job.name}", drives_body(drives))
    if form == "svg":
        from verifier.front.drives_svg import drives_svg

        return drives_svg(drives)
    from verifier.graph.render_drives import drives_dot, drives_mermaid, drives_text

    return {"text": drives_text, "dot": drives_dot, "mermaid": drives_mermaid}[form](drives)


def _rules(job: Job, form: Form, names: tuple[str, ...], dead: Dead) -> str:
    from verifier.graph.build import build_graph

    rules = tuple(rule for rule in job.rules if not names or rule.name in names)
    graph = build_graph(job)
    if names:
        graph.remove_nodes_from([node for node in graph if node[0] not in names])
        graph.graph["rules"] = {rule.name: rule for rule in rules}
    if form == "html":
        from verifier.front.graph_page import RULES_TITLE, rules_body
        from verifier.front.page import page

        body = rules_body(graph, job.name, rules, dead)
        return page(f"{RULES_TITLE}: {job.name}", body)
    if form == "svg":
        from verifier.front.graph_svg import rules_svg

        return rules_svg(graph, rules, dead)
    from verifier.graph.render import render_dot, render_mermaid, render_text

    return {"text": render_text, "dot": render_dot, "mermaid": render_mermaid}[form](graph, dead)


def _unknown_rule(name: str, job: Job) -> Diagnostic:
    from verifier.front.shown import shown

    known = [rule.name for rule in job.rules]
    near = get_close_matches(name, known, n=3, cutoff=0.6)
    if near:
        hint = f"Did you mean {' or '.join(near)}?"
    elif known:
        hint = f"The job's rules: {', '.join(known[:12])}{', …' if len(known) > 12 else ''}."
    else:
        hint = "The job has no rule."
    return Diagnostic(
        "unknown-rule",
        Severity.ERROR,
        f'there is no rule called "{shown(name)}"',
        (Label(Span("--rule", 0, 0)),),
        hint,
    )
