"""The `regdash` command: the list of its subcommands, each imported when it is called."""

import importlib
import os
import sys
from functools import partial
from typing import Any

import click

from regdash import __version__
from regdash.cli.ending import exit_code, fill_missing_streams

# Each command: the module that holds it under its own name (new-key as new_key), and what it does.
COMMANDS = {
    "demo": ("demo", "Make a synthetic register, take it in, freeze it and open it."),
    "receive": ("intake", "Take submissions in."),
    "held": ("intake", "List what was held back or rejected, and why."),
    "rules": ("rules", "List the rules and what they ask; let new ones judge all rows."),
    "return-files": ("returns", "Write what each hospital must correct, as it sent it."),
    "corrections": ("corrections", "List what hospitals corrected: who, when, what and why."),
    "links": ("links", "List, accept and undo links of revisions to their primaries."),
    "quality": ("quality", "Say how complete, timely and full the records are."),
    "freeze": ("intake", "Make a data cut."),
    "cuts": ("intake", "List the data cuts."),
    "dictionary": ("dictionary", "Say what submissions hold: tables, fields and codes."),
    "changes": ("changes", "Say what moved between two data cuts, and why."),
    "audit": ("audit", "List who did what, when and why; verify that nothing changed."),
    "backup": ("safekeeping", "Copy the whole store."),
    "restore": ("safekeeping", "Put a backup back."),
    "new-key": ("safekeeping", "Make the key that turns patients' numbers into pseudonyms."),
    "cohorts": ("cohorts", "List, save and remove cohorts that have a name."),
    "browse": ("browse", "Open the dashboard."),
    "describe": ("query", "Say who the joints are."),
    "activity": ("done", "Count primaries and revisions by when they were done."),
    "revisions": ("done", "Say what revisions were done for, and what was done at them."),
    "risk": ("query", "Estimate the risk of revision by group and year."),
    "reasons": ("query", "Say why joints are revised."),
    "rates": ("query", "Give revisions per 100 implant-years."),
    "mortality": ("mortality", "Estimate mortality after the operation by group and day."),
    "compare": ("compare", "Compare groups like for like: hazard ratios and tests."),
    "smooth": ("smooth", "Give the hazard along volume, age or bmi as a curve."),
    "gap": ("compare", "Split a difference in risk into its reasons."),
    "implants": ("query", "Compare each implant with all others of its class."),
    "screen": ("screen", "Screen implants for what needs a closer look."),
    "signals": ("signals", "List signals and say what became of them."),
    "implant": ("implant", "Tell everything about one implant."),
    "units": ("units", "List hospitals or surgeons: counts, risk and volume."),
    "joints": ("query", "List the joints themselves."),
    "joint": ("query", "Tell one joint's life."),
    "summary": ("summary", "Write the summary of a quarter for the committee."),
    "extract": ("extract", "Make data for a request, with a dictionary and checksums."),
    "requests": ("requests", "Keep the register of what the office is asked for."),
    "evidence": ("evidence", "Write the evidence on one signal for the committee or a maker."),
    "verify": ("summary", "Make a summary, evidence or an extract again; say what differs."),
    "sql": ("sql", "Ask a data cut in SQL, read-only."),
    "completion": ("completion", "Print what makes a shell complete commands and filters."),
}
# Options of many commands that may also stand before the command, and whether they take a value.
MOVABLE = {"--store": True, "--cut": True, "--json": False, "--csv": False}


class Program(click.Group):
    """A group that imports a command when it is called, and ends every refusal in one line."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Name the commands in the order of the work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import a command."""
        if cmd_name not in COMMANDS:
            return None
        module, short_help = COMMANDS[cmd_name]
        command: click.Command = getattr(importlib.import_module(f"regdash.cli.{module}"), cmd_name.replace("-", "_"))
        command.short_help = short_help
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command that is called; where there is none, name the nearest."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-") and not ctx.resilient_parsing:
            from regdash.suggest import nearest

            raise click.UsageError(f"There is no command {args[0]}. {nearest(args[0], COMMANDS, len(COMMANDS))}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, short_help) for name, (_, short_help) in COMMANDS.items()])

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read the arguments, common options moved from before the command to behind it."""
        return super().parse_args(ctx, _command_first(args))

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run a command line and leave with its exit code."""
        if "_REGDASH_COMPLETE" in os.environ:
            from regdash.cli import shells

            shells.register()
        sys.exit(exit_code(partial(super().main, *args, **{**extra, "standalone_mode": False})))


def _command_first(args: list[str]) -> list[str]:
    """
    Move common options behind the command, where click reads them.

    >>> _command_first(["--store", "here", "--json", "risk", "class=partial"])
    ['risk', '--store', 'here', '--json', 'class=partial']
    """
    place = 0
    while place < len(args) and args[place].partition("=")[0] in MOVABLE:
        name, has_value, _ = args[place].partition("=")
        place += 2 if MOVABLE[name] and not has_value else 1
    return [*args[place : place + 1], *args[:place], *args[place + 1 :]] if place < len(args) else args


@click.group(
    cls=Program,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Filters are words such as class=partial age=50..59 hospital!=H012. Options stand before or after them. "
    "The store is --store DIR, else REGDASH_STORE, else the platform's data folder.",
)
@click.version_option(__version__, prog_name="regdash", message="%(prog)s %(version)s")
def cli() -> None:
    """How long joint replacements last, why they are revised, and which implants need a closer look."""


def main() -> None:
    """Run the program; the entry point of the installed command."""
    fill_missing_streams()
    cli(prog_name="regdash")
