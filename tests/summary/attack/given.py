"""Folders as recipients get them, of registers that are made for it; only the forms that are read are written."""

from pathlib import Path

from regdash.signals.desk import SignalsDesk
from regdash.summary.build import build
from regdash.summary.edition import read_edition
from regdash.summary.output import EDITION, reproduction, write
from regdash.summary.pinned import pinned_by_cut
from regdash.summary.quarter import read_quarter
from regdash.summary.recipient import read_recipient, withheld_under
from regdash.summary.released import Released, read_released
from regdash.summary.renderers import package, text
from tests.summary.attack.folder import Folder

JOINTS = ("knee", "hip", "shoulder")


def given(
    store: Path,
    cut: str,
    quarter: str,
    reader: str,
    folder: Path,
    previous: Path | None = None,
    desk: SignalsDesk | None = None,
) -> Folder:
    """Write what one recipient gets of a quarter: tables, text, edition and what makes it again."""
    recipient = read_recipient(reader)
    edition = read_edition(store, recipient.kind)
    opened = desk or SignalsDesk(store, cut, withhold_counts_under=withheld_under(recipient, edition))
    before: Released | None = read_released(previous, JOINTS) if previous else None
    reviews, of = pinned_by_cut(store, opened.manifest), read_quarter(quarter)
    document = build(opened, edition, of, reviews, recipient=recipient, before=before)
    files = {EDITION: edition.text.encode(), "summary.txt": text.render(document).encode()}
    files |= {f"tables/{name}": data for name, data in package.render(document).items()}
    told_before = before.facts if before else None
    write(folder, files, reproduction(opened, edition, of, reviews, None, files, recipient, told_before))
    if desk is None:
        opened.close()
    return Folder(folder)
