"""`duskproof completion`: what makes a shell complete commands, options, folders and names."""

from __future__ import annotations

import click

from verifier.front.console import say

VARIABLE = "_DUSKPROOF_COMPLETE"


@click.command("completion")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]), metavar="bash|zsh|fish")
def command(shell: str) -> int:
    """Print what makes a shell complete commands, options, folders and names.

    The shell reads it when it starts, from a file where it looks for such:

    \b
      bash   ~/.local/share/bash-completion/completions/duskproof
      zsh    _duskproof in a folder of $fpath
      fish   ~/.config/fish/completions/duskproof.fish

    After --only and a folder, the requirements of that job are offered.

    \b
    Example:
      duskproof completion bash
    """
    from click.shell_completion import get_completion_class

    from verifier.front.command import cli

    found = get_completion_class(shell)
    assert found is not None
    say(found(cli, {}, "duskproof", VARIABLE).source().rstrip())
    return 0
