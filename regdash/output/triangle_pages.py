"""The reporting triangle as a page of text, in counts or in shares, and in the form that programs get."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest

from regdash.output.people import Lines, page
from regdash.output.record import Record, record_of
from regdash.output.records_pages import records_page, records_record
from regdash.output.sheets import LABEL, Withheld, once
from regdash.output.table import Column
from regdash.output.wording import NONE, count, percent
from regdash.reports.triangle import TriangleLine, TriangleReport, TriangleRow

LAGS = 6  # periods after its own that a line shows one by one
MEANS = (
    "+1: first received in the {period} after the {period} of operation. So far: all of the {period} that have come. "
    f"{NONE}: cannot have come yet."
)
SHARES_MEAN = "In %: the share of those so far that had come by then."


@dataclass(frozen=True)
class Shares:
    """A triangle whose page shows shares."""

    report: TriangleReport


@record_of.register
def _(report: TriangleReport) -> Record:
    return records_record(report.head, TriangleRow, report.rows)


@page.register
def _(report: TriangleReport, width: int) -> Lines:
    cells = [[_came(line, lag) for line in report.lines] for lag in range(LAGS + 1)]
    later = [_later(line) for line in report.lines]
    return _page(report, cells, [Column("later", later, rank=LAGS + 1)], [MEANS.format(period=report.period)], width)


@page.register
def _(shown: Shares, width: int) -> Lines:
    lines = shown.report.lines
    columns = zip_longest(*(line.shares[: LAGS + 1] for line in lines))
    cells = [[percent(share) for share in shares] for shares in columns]
    return _page(shown.report, cells, [], [SHARES_MEAN, MEANS.format(period=shown.report.period)], width)


def _page(
    report: TriangleReport, cells: Sequence[Sequence[str]], later: list[Column], said: Sequence[str], width: int
) -> Lines:
    notes, lines = Withheld(), report.lines
    groups = Column("group", once([line.group for line in lines]), left=True, least=LABEL)
    columns = [groups] if any(line.group != "all" for line in lines) else []
    columns += [Column("operated", [line.operated for line in lines], left=True)]
    columns += [Column(f"+{lag}", came, rank=lag) for lag, came in enumerate(cells)]
    columns += [*later, Column("so far", [count(line.so_far) for line in lines])]
    return records_page(report.head, columns, width, notes, said)


def _came(line: TriangleLine, lag: int) -> str:
    return count(line.counts[lag]) if lag < len(line.counts) else NONE


def _later(line: TriangleLine) -> str:
    counts = line.counts[LAGS + 1 :]
    return NONE if None in counts or not counts else count(sum(number or 0 for number in counts))
