"""What keeps a store safe: backup, restore, and the key of its pseudonyms."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from regdash.cli.audited import audited
from regdash.cli.options import store_option
from regdash.cli.place import to_write
from regdash.cli.printing import say

if TYPE_CHECKING:
    from regdash.store.backup import Backup


@click.command()
@click.argument("to", metavar="TO", type=click.Path(path_type=Path))
@store_option
def backup(to: Path, store: Path | None) -> None:
    """
    Copy the whole store into a new folder, with a hash of each file.

    Nobody can write into the store meanwhile. Nothing is ever written over.

    \b
      regdash backup /backups/2024-12-31
    """
    from regdash.store.backup import back_up

    place = to_write(store)
    with audited(place, "backup", str(to)):
        made = back_up(place, to.expanduser())
    say(f"{_in_words(made)} of {place} copied to {to}.")


@click.command()
@click.argument("source", metavar="FROM", type=click.Path(path_type=Path))
@store_option
def restore(source: Path, store: Path | None) -> None:
    """
    Put a backup back, where no store is.

    The hash of each file is checked first.

    \b
      regdash restore /backups/2024-12-31 --store DIR
    """
    from regdash.store.backup import restore as put_back

    place = to_write(store)
    with audited(place, "restore", str(source)) as act:
        found = put_back(source.expanduser(), place)
        act.details = {"made": found.made, "files": len(found.files)}
    say(f"{_in_words(found)} of {found.made} restored to {place}.")


def _in_words(backup: "Backup") -> str:
    return f"{len(backup.files):,} files ({backup.size / 1e6:,.1f} MB)"


@click.command("new-key")
@click.argument("file", metavar="FILE", type=click.Path(path_type=Path))
@store_option
def new_key(file: Path, store: Path | None) -> None:
    """
    Make the key that turns patients' own numbers into pseudonyms.

    Keep it outside the store, and keep a copy: without it no patient is found again. Nobody else may read it.

    \b
      regdash new-key ~/keys/register.key
      regdash receive inbox --key ~/keys/register.key
    """
    from regdash.intake.pseudonyms import new_key as make_key

    with audited(to_write(store), "key-made"):
        make_key(file.expanduser())
    say(f"A new key stands in {file}, readable by you alone. Keep a copy where the store is not.")
