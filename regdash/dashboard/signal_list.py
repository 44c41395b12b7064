"""How signals are listed: the columns of the list of implants, constructs, sizes or lots, and a row of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from regdash.dashboard import wording
from regdash.dashboard.row_words import RowWord
from regdash.dashboard.widgets.grid import Column, Row

if TYPE_CHECKING:
    from regdash.signals.history_model import HistoryReport, HistoryRow
    from regdash.signals.model import ScreenReport, SignalRow, SignalsReport

STRIP = 20  # quarters, the newest
UNSEEN = "–"  # a signal in neither cut, or nothing to compare with
# Each column: its title, the word that orders and chooses rows by it, what that is, and whether it is a text. What is
# needed most comes first, so that it fits 80 columns.
COLUMNS = (
    ("implant", "code", "code of the implant, construct, size or lot", True),
    ("years", "years", "window of years since implantation; all is all of follow-up", True),
    ("revised", "revised", "revisions", False),
    ("ratio", "ratio", "hazard ratio against all others, adjusted", False),
    ("95 % limits", "lower", "lower limit of that ratio", False),
    ("q", "q", "share of false signals up to here, over everything tested", False),
    ("review", "state", "how far the review is; of signals, and of what was decided on", True),
    ("seen", "seen", "first seen, seen again or not seen since the data cut before", True),
    ("signal", "signal", "what the screen says", True),
    ("expected", "expected", "revisions expected at the rate of all others", False),
    ("joints", "joints", "joints in follow-up", False),
    ("years in all", "time", "implant-years", False),
    ("per 100 y", "rate", "revisions per 100 implant-years", False),
    ("crude", "crude", "ratio of that rate to all others', not adjusted", False),
    ("shrunk", "shrunk", "ratio drawn towards the others' as far as few events leave room", False),
    ("above", "above", "probability that the true ratio exceeds the stated one", False),
    ("class", "class", "class of the replacement", True),
    ("joint", "joint", "joint", True),
    ("role", "role", "role of the implant", True),
    ("decided by", "by", "who decided last", True),
    ("decided at", "at", "when, in UTC", True),
    ("on data cut", "cut", "the data cut that the decision rests on", True),
)  # fmt: skip
HISTORY = (
    "quarters",
    "times",
    "quarters in which it was a signal; the newest stand right: # signal, . none, - too few",
)
PLACE = 8  # of the history among the columns, where there is one
WORDS = tuple(RowWord(key, about, is_text, "<" if key == "q" else ">") for _, key, about, is_text in COLUMNS)
KEYS = tuple(key for _, key, *_ in COLUMNS)


Histories = Mapping[tuple[str, str, str], "HistoryRow"]


def histories_of(report: HistoryReport | None) -> Histories | None:
    """Find the history of each unit, by its code, role and class; None where no replay is remembered."""
    return None if report is None else {(row.code, row.role, row.joint_class): row for row in report.rows}


def words_of(histories: Histories | None) -> tuple[RowWord, ...]:
    """The words that choose rows."""
    return WORDS if histories is None else (*WORDS[:PLACE], RowWord(*HISTORY[1:]), *WORDS[PLACE:])


def columns_of(kind: str, histories: Histories | None = None) -> tuple[Column, ...]:
    """The columns of a kind; the first is called by it."""
    titles = (kind.removesuffix("s"), *(title for title, *_ in COLUMNS[1:]))
    columns = [
        Column(title, key, left=is_text or key == "lower") for title, (_, key, _, is_text) in zip(titles, COLUMNS)
    ]
    if histories is not None:
        columns.insert(PLACE, Column(HISTORY[0], HISTORY[1], width=STRIP))
    return tuple(columns)


def signal_row(row: SignalRow, histories: Histories | None = None) -> Row:
    """Lay out one unit in one window; what the screen does not tell of is a dash."""
    cells, keys, values = list(_cells(row)), list(KEYS), values_of(row, histories)
    if histories is not None:
        from regdash.charts.history import strip

        found = _history(row, histories)
        cells.insert(PLACE, strip(found.states, STRIP) if found else UNSEEN)
        keys.insert(PLACE, HISTORY[1])
    return Row(tuple(cells), (row.unit, row.screened.window), tuple(values[key] for key in keys))


def _history(row: SignalRow, histories: Histories | None) -> HistoryRow | None:
    return (histories or {}).get((row.unit.code, row.unit.role, row.screened.joint_class))


def _cells(row: SignalRow) -> tuple[str, ...]:
    figures, review = row.screened, row.review
    limits = wording.limits(figures.lower, figures.upper)
    if figures.lower is None:
        limits = _short(figures.withheld) or limits
    return (
        row.unit.code,
        figures.window,
        wording.count(figures.revisions),
        wording.number(figures.hazard_ratio),
        limits,
        wording.p_value(figures.q),
        row.state if row.is_listed else UNSEEN,  # so that signals stand out among what is none
        row.seen or UNSEEN,
        figures.signal,
        wording.number(figures.expected, 1),
        wording.count(figures.joints),
        wording.number(figures.implant_years, 0),
        wording.number(figures.per_100_implant_years),
        wording.number(figures.rate_ratio),
        wording.number(figures.shrunk_hazard_ratio),
        wording.number(figures.probability),
        row.unit.joint_class,
        row.unit.joint,
        row.unit.role,
        review.decided_by if review else UNSEEN,
        review.decided_at.replace("T", " ").replace("Z", "") if review else UNSEEN,
        review.rests_on.cut if review else UNSEEN,
    )


def _short(withheld: str | None) -> str:
    """Say in a cell that figures are not there; the line under the list says why."""
    return "" if withheld is None else "not tested" if withheld.startswith("not tested") else "withheld"


def values_of(row: SignalRow, histories: Histories | None = None) -> dict[str, Any]:
    """What each column is ordered and chosen by."""
    figures, review, history = row.screened, row.review, _history(row, histories)
    return {
        "code": row.unit.code,
        "years": figures.window,
        "revised": figures.revisions,
        "ratio": figures.hazard_ratio,
        "lower": figures.lower,
        "q": figures.q,
        "state": row.state if row.is_listed else None,
        "seen": row.seen,
        "signal": figures.signal,
        "expected": figures.expected,
        "joints": figures.joints,
        "time": figures.implant_years,
        "rate": figures.per_100_implant_years,
        "crude": figures.rate_ratio,
        "shrunk": figures.shrunk_hazard_ratio,
        "above": figures.probability,
        "class": row.unit.joint_class,
        "joint": row.unit.joint,
        "role": row.unit.role,
        "by": review.decided_by if review else None,
        "at": review.decided_at if review else None,
        "cut": review.rests_on.cut if review else None,
        "times": history.quarters_seen if history else None,
    }


def tested_line(screen: ScreenReport) -> str:
    """Say how many were tested, and how many signals are expected to be false."""
    tests, signals = (
        f"{noun}{'' if n == 1 else 's'}" for n, noun in ((screen.tests, "test"), (screen.signals, "signal"))
    )
    if not screen.tests:
        return "nothing was tested: too few joints, or too few revisions expected"
    said = f"{screen.tests:,} {tests}, {screen.signals or 'no'} {signals}; "
    if screen.signals:
        return f"{said}at most {screen.expected_false:.2g} of them expected to be false"
    chance = f"{100 * screen.settings.q:g} %"
    return f"{said}if no ratio is above {screen.settings.stated_ratio:g}, {chance} of screens show one"


def seen_line(report: SignalsReport | None) -> str:
    """Say how many are new, there again and gone; nothing where nothing was compared."""
    if report is None or report.earlier is None:
        return ""
    return f"{report.seen('first seen')} first seen, {report.seen('seen again')} again, {report.seen('not seen')} not"


def row_sentence(row: SignalRow, histories: Histories | None = None) -> str:
    """Say of one row what its cells have no room for: since when, why it is seen as it is, and who decided last."""
    said, history = [], _history(row, histories)
    if history and history.first_seen:
        quarters = f"{history.quarters_seen} quarter{'' if history.quarters_seen == 1 else 's'}"
        said.append(f"first a signal in {history.first_seen}, in {quarters} so far")
    if row.seen and row.moved:
        said.append(f"{row.seen}: {row.moved.cause}{f'. {row.moved.sentence}' if row.moved.sentence else ''}")
    if row.review:
        said.append(f"{row.state} by {row.review.decided_by}: {row.review.why}")
    if row.screened.withheld and not said:
        said.append(row.screened.withheld)
    return " · ".join(said)
