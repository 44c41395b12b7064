"""One recipient's own primaries: how many, by joint and class; and where the edition says so, which."""

from regdash import grouping
from regdash.output.record import record_of
from regdash.output.sheets import joints_columns, once
from regdash.output.table import Column
from regdash.output.wording import count
from regdash.summary.asker import Asker
from regdash.summary.document import Block, Paragraph, Provenance, Section, Table
from regdash.summary.sections.names import PLURALS, slug
from regdash.summary.tables import plain_record, shortened

OWN_JOINTS = "own-joints"
COUNTS_ALONE = "Own joints are counted here and not listed: the office lists them to who may see them."


def section(asker: Asker) -> Section:
    """Count own primaries of the quarter, and of the same quarter of the year before."""
    blocks: list[Block] = [_counted(asker)]
    blocks += _listed(asker) if asker.edition.list_own_joints else [Paragraph(COUNTS_ALONE)]
    return Section("own-activity", "Own primaries", tuple(blocks))


def own_words(asker: Asker) -> str:
    """Write the filter word that chooses the recipient's own joints."""
    return f"{asker.recipient.kind}={asker.recipient.code}"


def _counted(asker: Asker) -> Table:
    then = asker.quarter.a_year_before
    rows: list[tuple[str, str, int | None, int | None, int | None]] = []
    for joint in asker.edition.joints:
        own = f"joint={joint} {own_words(asker)}"
        now, before, ever = (
            _by_class(asker, f"{own}{when}") for when in (f" implanted={asker.quarter}", f" implanted={then}", "")
        )
        rows += [(joint, name, now.get(name, 0), before.get(name, 0), joints) for name, joints in ever.items()]
    columns = (
        Column("joint", once([row[0] for row in rows]), left=True),
        Column("class", [row[1] for row in rows], left=True),
        *(
            Column(heading, [count(number) for number in numbers])
            for heading, numbers in (
                (str(asker.quarter), [row[2] for row in rows]),
                (str(then), [row[3] for row in rows]),
                ("in the cut", [row[4] for row in rows]),
            )
        ),
    )
    record = plain_record("own primaries", ("joint", "class", "quarter", "year_before", "in_the_cut"), rows)
    of = f"Own primaries of the data cut; those of {asker.quarter}, of {then}, and all. The latest may grow."
    command = asker.command("describe", own_words(asker), f"implanted={asker.quarter}", "--by", "joint,class")
    come_from = Provenance("description", own_words(asker), of, command)
    return Table("own-primaries", "Own primaries by joint and class", columns, record, come_from)


def _by_class(asker: Asker, words: str) -> dict[str, int | None]:
    report = asker.desk.describe(asker.cohort(words, "own-activity"), grouping.parse("class"))
    return {row.group: row.joints for row in report.rows}


def _listed(asker: Asker) -> list[Block]:
    """List own primaries of the quarter, joint by joint."""
    found: list[Block] = []
    for joint in asker.edition.joints:
        cohort = asker.cohort(f"joint={joint} {own_words(asker)} implanted={asker.quarter}", "own-activity")
        report = asker.desk.joints(cohort, limit=None)
        if report.rows:
            command = asker.command("joints", *cohort.words)
            come_from = Provenance("joints", str(cohort), f"Own primaries of {asker.quarter}.", command)
            title = f"{PLURALS[joint]}: own primaries of {asker.quarter}"
            table = Table(slug(OWN_JOINTS, joint), title, tuple(joints_columns(report)), record_of(report), come_from)
            found.append(shortened(table, asker.edition.rows_on_paper, "the first"))
    return found
