"""A command that has commands of its own: its help says of each in a whole sentence what it does."""

import click


class Family(click.Group):
    """A group whose list of commands wraps sentences, where click cuts them to a line."""

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands, each with the first sentence of its help."""
        found = ((name, self.get_command(ctx, name)) for name in self.list_commands(ctx))
        rows = [(name, command.get_short_help_str(limit=1_000)) for name, command in found if command]
        with formatter.section("Commands"):
            formatter.write_dl(rows)
