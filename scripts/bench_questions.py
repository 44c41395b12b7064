"""
The five questions of the statistics' bench, asked of a data cut: what counting takes, and what arithmetic takes.

Run by `bench_statistics.py`, each in a process of its own: python bench_questions.py STORE QUESTION REPEATS ANSWER
"""

import sys
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from regdash.reports.patterns import Patterns
    from regdash.stats.events import EventTable
    from regdash.store.cuts import Cut

GROUPS = "bearing"
COVARIATES = ("bearing", "age", "sex", "asa", "diagnosis", "fixation", "patella", "technology")
UNIT, STRATA = "construct", ("age", "sex")
ALL = "all"
OUTCOMES = 8  # reasons that occur; death is the ninth
READ = (365, 16 * 365, 7)  # days on which curves are compared: from, up to, step

Answer = dict[str, np.ndarray]


@dataclass(frozen=True)
class Question:
    """One question: how it is counted on a cut, and what is worked out from the counts."""

    title: str
    count: Callable[["Cut"], Any]
    work_out: Callable[[Any], Any]
    read: Callable[[Any], Answer]  # the same figures, laid out to be compared; not timed
    aim: str = "10 ×"  # of the fastest other that gives the same answer


def days_read() -> np.ndarray:
    """The days on which curves are compared."""
    return np.arange(*READ)


def _patterns(by: str, *adjust: str) -> Callable[["Cut"], "Patterns"]:
    def counted(cut: "Cut") -> "Patterns":
        from regdash import cohort, grouping
        from regdash.reports.patterns import count_patterns

        everybody = cohort.parse([], known=cut.known)
        return count_patterns(cut, everybody, grouping.parse(by), grouping.parse(",".join(adjust)))

    return counted


def _table(cut: "Cut") -> "EventTable":
    from regdash import cohort, grouping
    from regdash.reports.counted import count

    return count(cut, cohort.parse([], known=cut.known), grouping.parse(GROUPS)).table


def _net_risk(table: "EventTable") -> list[Any]:
    """The whole curve of each group, with limits."""
    from regdash.stats.kaplan_meier import kaplan_meier

    groups = [table.of(number) for number in range(len(table.groups))]
    return [kaplan_meier(each.days, each.revised, each.left).curve() for each in groups]


def _read_net_risk(curves: list[Any]) -> Answer:
    names = ("risk", "lower", "upper")
    return {name: np.concatenate([at_days(c.days, getattr(c, name)) for c in curves]) for name in names}


def _incidence(table: "EventTable") -> list[list[Any]]:
    """The whole curve of each group and outcome that occurs, with limits and variance."""
    from regdash.stats.aalen_johansen import aalen_johansen
    from regdash.stats.events import DIED

    occurring = np.flatnonzero(np.bincount(table.outcome, minlength=len(table.outcomes))[DIED:]) + DIED
    found = []
    for number in range(len(table.groups)):
        group = table.of(number)
        risks = aalen_johansen(group.days, group.by_outcome[:, occurring], group.left)
        steps = [risks.of(cause) for cause in range(len(occurring))]
        found.append([(step, step.curve()) for step in steps])
    return found


def _read_incidence(groups: list[list[Any]]) -> Answer:
    steps = [step for group in groups for step, _ in group]
    return {"incidence": np.concatenate([at_days(step.days, step.risk) for step in steps])}


def _gray(table: "EventTable") -> Any:
    from regdash.stats.gray import gray_test

    return gray_test(table)


def _cox(patterns: "Patterns") -> Any:
    """Adjusted ratios, with limits, of every level."""
    from regdash.reports.comparison import comparison

    fit = comparison(patterns, GROUPS, 0, penalised=False).fit
    return fit, fit.ratios()


def _read_cox(found: Any) -> Answer:
    return {"log ratio": found[0].coef, "standard error": found[0].se}


def _screen(patterns: "Patterns") -> Any:
    from regdash.stats.cox_counts import pattern_counts
    from regdash.stats.screened import screened_hazard_ratios

    names = [group.label for group in patterns.groups]
    return screened_hazard_ratios(pattern_counts(patterns.table, stratum=patterns.stratum()[0]), patterns.group, names)


def _read_screen(found: Any) -> Answer:
    ratios = [one.ratio for one in found]
    log_ratio = [np.nan if one.ratio is None else np.log(one.ratio) for one in ratios]
    return {"log ratio": np.array(log_ratio), "standard error": np.array([one.log_se or np.nan for one in ratios])}


def at_days(days: np.ndarray, values: Any) -> np.ndarray:
    """Read a step function; nan before its first step and where it is not defined."""
    known: np.ndarray = np.insert(np.ma.filled(np.ma.asarray(values, dtype=float), np.nan), 0, np.nan)
    return known[np.searchsorted(days, days_read(), side="right")]


QUESTIONS: Mapping[str, Question] = {
    "net_risk": Question("Kaplan–Meier, 3 groups, limits", _table, _net_risk, _read_net_risk),
    "incidence": Question("incidence, 3 groups × 9 outcomes", _table, _incidence, _read_incidence),
    "cox": Question("Cox, 8 categorical covariates, Efron", _patterns(GROUPS, *COVARIATES[1:]), _cox, _read_cox),
    "gray": Question("Gray's test, 3 groups", _table, _gray, lambda found: {"statistic": np.array([found.statistic])}),
    "screen": Question(
        "300 adjusted hazard ratios, each against all others", _patterns(UNIT, *STRATA), _screen, _read_screen, "1 s"
    ),
}


def timed(question: Question, cut: "Cut", repeats: int) -> tuple[list[tuple[float, float]], Answer]:
    """Ask some times over; the first time is left out where there are others: it imports and reads the file."""
    took, found = [], None
    for _ in range(repeats + (repeats > 1)):
        cut.remembered.forget()  # a count that was kept would be no count
        began = time.perf_counter()
        counts = question.count(cut)
        counted = time.perf_counter()
        found = question.work_out(counts)
        took.append((counted - began, time.perf_counter() - counted))
    return took[repeats > 1 :], question.read(found)


def written(seconds: Mapping[str, float], answer: Answer) -> Iterator[str]:
    """Write times and figures, a name and its numbers a line, as the other programs of the bench do too."""
    for name, value in seconds.items():
        yield f"{name}\t{value!r}\n"
    for name, values in answer.items():
        yield f"{name}\t{' '.join(repr(float(value)) for value in values)}\n"


def main() -> None:
    """Answer one question, or ALL one after the other, for `bench_statistics.py`."""
    from regdash.store.cuts import Cut

    store, name, repeats, path = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), Path(sys.argv[4])
    cut = Cut(store)
    text: list[str] = []
    for question in QUESTIONS.values() if name == ALL else [QUESTIONS[name]]:
        took, answer = timed(question, cut, repeats)
        counting, arithmetic = sorted(took, key=sum)[len(took) // 2]  # both parts of one asking: they add up
        seconds = {"seconds": counting + arithmetic, "counting": counting, "arithmetic": arithmetic}
        text += written(seconds, answer)
    path.write_text("".join(text), encoding="utf-8")


if __name__ == "__main__":
    main()
