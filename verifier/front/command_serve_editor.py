"""`duskproof serve-editor`: the language server, spoken to over standard input and output."""

from __future__ import annotations

from fractions import Fraction

import click

from verifier.front.console import Duration


@click.command("serve-editor")
@click.option(
    "--time-limit",
    type=Duration(),
    default="60 s",
    show_default=True,
    help="Longest time for one requirement.",
)
def command(time_limit: Fraction) -> int:
    """Serve an editor: mistakes as you type, proofs as you save (Language Server Protocol).

    The editor starts it and speaks to it over standard input and output; grammar/EDITORS.md says how
    to hook it in. It needs the extra `editor`: pip install "duskproof[editor]".

    \b
    Example:
      duskproof serve-editor --time-limit "30 s"
    """
    try:
        from verifier.front.editor.server import server
    except ModuleNotFoundError as missing:
        # Standard output is the editor's.
        click.echo(
            f"error: the server for editors needs a library that is not there: {missing.name}  "
            '[library-missing]\n  do: Install it with the tool: pip install "duskproof[editor]"',
            err=True,
        )
        return 2
    import logging

    logging.disable(logging.CRITICAL)  # what it has to say it says to the editor
    server(float(time_limit)).start_io()
    return 0
