"""The command that prints a shell's completion script."""

import sys

import click

from regdash.cli import shells
from regdash.cli.printing import emit, say

HOW = {
    "bash": 'eval "$(regdash completion bash)"      # in ~/.bashrc; bash 4.4 or newer',
    "zsh": 'eval "$(regdash completion zsh)"       # in ~/.zshrc, after compinit',
    "fish": "regdash completion fish | source       # in ~/.config/fish/config.fish",
}


@click.command()
@click.argument("shell", type=click.Choice(list(HOW)), required=False)
def completion(shell: str | None) -> None:
    """
    Print what makes a shell complete commands, options, filter words and codes.

    Without a shell it tells which line to add to which file.
    """
    if shell is None:
        emit("".join(f"{how}\n" for how in HOW.values()))
        return
    from click.shell_completion import get_completion_class

    from regdash.cli.main import cli

    shells.register()
    kind = get_completion_class(shell)
    assert kind is not None
    if sys.stdout.isatty():
        say(f"# To use it: {HOW[shell]}")
    emit(kind(cli, {}, "regdash", "_REGDASH_COMPLETE").source())
