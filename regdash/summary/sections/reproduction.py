"""The reproduction sheet: everything that decides the figures, and a command for each table."""

import json
import shlex
from collections.abc import Sequence
from typing import Any

import regdash
from regdash.output.table import Column
from regdash.stats.largest_fall import DRAWS, SEED
from regdash.summary.asker import Asker
from regdash.summary.document import Facts, Paragraph, Provenance, Section, Table, blocks
from regdash.summary.edition import REQUESTS
from regdash.summary.tables import plain_record

FALLS = "falls"  # the part of an explanation that draws
AGAIN = (
    "The same data cut, edition, settings and release of the program give the same files, byte for byte. To "
    "make it all "
    "again and compare: regdash verify FOLDER, with the folder that holds this document. The file "
    "reproduction.json in it "
    "has a checksum of every file."
)


def section(asker: Asker, before: Sequence[Section]) -> Section:
    """Write down what the figures in the sections before are made from."""
    tables = [block for block in blocks(before) if isinstance(block, Table)]
    facts = Facts(tuple(_facts(asker)))
    return Section("reproduction", "Reproduction sheet", (Paragraph(AGAIN), facts, _commands(tables)))


def _facts(asker: Asker) -> list[tuple[str, str]]:
    cut = asker.cut
    return [
        ("command", asker.made_by),
        ("data cut", f"{cut.cut}, hash {cut.content_hash}, hash format {cut.hash_format}, layout {cut.layout}"),
        ("compared with", asker.earlier.cut if asker.earlier else "no earlier data cut"),
        ("through, known as of", f"{cut.through_date}, {cut.known_as_of}"),
        ("rules", cut.rule_set),
        ("code lists", cut.code_lists),
        ("catalogue", cut.catalogue),
        ("cut settings", _written(cut.settings)),
        ("program", f"regdash {regdash.__version__}"),
        ("policy", _written(asker.desk.policy.settings)),
        ("screening", _written(asker.screening)),
        ("reviews", _written(asker.reviews.facts)),
        *_register(asker),
        ("edition", f"{asker.edition.name}, version {asker.edition.version}, hash {asker.edition.hash}"),
        ("random numbers", _drawn(asker)),
    ]


def _register(asker: Asker) -> list[tuple[str, str]]:
    """Say which lines of the register of requests count, where the edition tells of them."""
    if REQUESTS not in asker.edition.sections:
        return []
    return [("requests", _written(asker.desk.register(asker.reviews.request_lines).facts))]


def _drawn(asker: Asker) -> str:
    """Say where chance is played out: on pages of implants alone, where users are left out."""
    if FALLS not in asker.edition.explained:
        return "none are drawn"
    return f"seed {SEED} of numpy's PCG64, {DRAWS:,} draws, where a ratio without each user is set beside chance"


def _written(settings: dict[str, Any]) -> str:
    return json.dumps(settings, sort_keys=True, ensure_ascii=False)


def _commands(tables: Sequence[Table]) -> Table:
    told = [
        (
            table.name,
            f"regdash {shlex.join(table.provenance.command)}" if table.provenance.command else "no command of its own",
        )
        for table in tables
    ]
    columns = (
        Column("table", [name for name, _ in told], left=True, least=20),
        Column("command that gives its figures", [command for _, command in told], left=True, least=30),
    )
    record = plain_record("commands", ("table", "command"), told)
    come_from = Provenance("commands", "", "Every table of this document.")
    return Table("commands", "Where each table comes from", columns, record, come_from)
