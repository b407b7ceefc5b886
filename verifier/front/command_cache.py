"""``duskproof cache``: what is kept from one run to the next, and how to forget it."""

from __future__ import annotations

from pathlib import Path

import click

from verifier.front.console import say
from verifier.proof.cache import Contents

_KINDS = {
    "verdict": ("verdict on a requirement", "verdicts on requirements"),
    "chain": ("answer on endless chains", "answers on endless chains"),
    "doubt": ("answer on what never happens", "answers on what never happens"),
    "reads": ("answer on a rule's conditions", "answers on rules' conditions"),
}


@click.command()
@click.option(
    "--cache",
    "folder",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    help="This folder, not your own cache folder.",
)
@click.option("--clear", is_flag=True, help="Forget all that is kept.")
def command(folder: Path | None, clear: bool) -> int:
    """Show what is kept from one run to the next; with --clear, forget it.

    What is kept saves time and nothing else: a verdict without it is the same.

    \b
    Example:
      duskproof cache
    """
    from verifier.front.keeping import keeping
    from verifier.pipeline import cache_of

    cache = cache_of(keeping(folder))
    if cache is None:
        say("Nothing is kept: DUSKPROOF_CACHE is off.")
        return 0
    if clear:
        count = cache.clear()
        said = f"{cache.path}: {count:,} {'answer' if count == 1 else 'answers'} forgotten."
    else:
        said = _shown(cache.contents())
    problem = cache.said()
    cache.close()
    if problem:
        click.echo(f"warning: {problem}", err=True)
    say(said)
    return 0


def _shown(contents: Contents) -> str:
    """What a cache holds, in words."""
    if not contents.counts:
        return f"{contents.path}: nothing is kept there."
    lines = [f"{contents.path}: {contents.size / 1e6:,.1f} MB"]
    for kind, count in contents.counts:
        one, many = _KINDS.get(kind, (kind, kind))
        lines.append(f"  {count:,} {one if count == 1 else many}")
    if contents.oldest is not None:
        lines.append(f"  the oldest from {contents.oldest}")
    return "\n".join(lines)
