"""
The bench's questions as lifelines, scikit-survival and comprisk answer them, from rows that lie in memory.

Run by `bench_statistics.py` with a Python that has them: python bench_others.py LIBRARY QUESTION FOLDER ANSWER
What does not give the same answer is left out: lifelines moves tied days at random before Aalen-Johansen,
comprisk's Cox model knows no Efron, and scikit-survival's limits of incidence take memory of days × days.
Times are of fits as the library ends them by itself; figures are compared after one more that goes to the end.
"""

import statistics
import sys
import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
from bench_questions import COVARIATES, GROUPS, OUTCOMES, STRATA, UNIT, Answer, at_days, written

SEVERAL, ENOUGH = 5, 10.0  # askings, or seconds after which no other begins
WARM_UP = 20_000  # rows that are answered from first: compilers and imports are no part of a time
TO_THE_END = {"precision": 1e-12, "r_precision": 1e-15}
UNITS = 3  # of the units that are compared with all others, these many are timed


@dataclass(frozen=True, eq=False)
class Rows:
    """The joints, an array a field."""

    columns: dict[str, np.ndarray]
    references: dict[str, int]  # the level that others are compared with, by covariate

    @classmethod
    def of(cls, folder: Path) -> "Rows":
        lines = (folder / "references").read_text(encoding="utf-8").splitlines()
        references = {name: int(level) for name, level in (line.split("\t") for line in lines)}
        return cls({path.stem: np.fromfile(path, dtype="<i4") for path in folder.glob("*.i4")}, references)

    def some(self) -> "Rows":
        step = max(1, len(self["days"]) // WARM_UP)
        return Rows({name: values[::step] for name, values in self.columns.items()}, self.references)

    @property
    def revised(self) -> np.ndarray:
        return self["outcome"] > 1

    def __getitem__(self, name: str) -> np.ndarray:
        return self.columns[name]

    def by_group(self, *arrays: np.ndarray) -> list[tuple[np.ndarray, ...]]:
        """These arrays, apart for each group."""
        groups = [self[GROUPS] == number for number in np.unique(self[GROUPS])]
        return [tuple(values[own] for values in arrays) for own in groups]

    def levels(self) -> dict[str, np.ndarray]:
        """A column for each level of each covariate but the reference."""
        return {
            f"{name}={level}": (self[name] == level).astype(float)
            for name in COVARIATES
            for level in np.unique(self[name])
            if level != self.references[name]
        }

    def units(self) -> list[int]:
        """The units that are timed, spread over small and large ones."""
        last = int(self[UNIT].max())
        return np.unique(np.linspace(0, last, UNITS).astype(int)).tolist()

    def stratum(self) -> np.ndarray:
        """The strata as one number."""
        first, second = (self[name].astype(np.int64) for name in STRATA)
        return first * (second.max() + 1) + second


Work = Callable[[bool], Any]  # whether an iteration shall go to the end
Read = Callable[[Any], Answer]
Job = Callable[[Rows], tuple[Work, Read]]


def lifelines_net_risk(rows: Rows) -> tuple[Work, Read]:
    """Kaplan-Meier, with limits of log(-log)."""
    from lifelines import KaplanMeierFitter

    groups = rows.by_group(rows["days"], rows.revised)

    def read(fits: list[Any]) -> Answer:
        tables = [fit.survival_function_.join(fit.confidence_interval_) for fit in fits]
        free, low, high = (np.concatenate([at_days(t.index, t.iloc[:, k]) for t in tables]) for k in range(3))
        return {"risk": 1 - free, "lower": 1 - high, "upper": 1 - low}

    return lambda exact: [KaplanMeierFitter().fit(days, event) for days, event in groups], read


def sksurv_net_risk(rows: Rows) -> tuple[Work, Read]:
    """Kaplan-Meier, with limits of log(-log)."""
    from sksurv.nonparametric import kaplan_meier_estimator

    groups = rows.by_group(rows["days"], rows.revised)

    def read(found: list[Any]) -> Answer:
        free, low, high = (
            np.concatenate([at_days(days, values) for days, values in each])
            for each in zip(*(((d, s), (d, ci[0]), (d, ci[1])) for d, s, ci in found))
        )
        return {"risk": 1 - free, "lower": 1 - high, "upper": 1 - low}

    return lambda exact: [kaplan_meier_estimator(event, days, conf_type="log-log") for days, event in groups], read


def sksurv_incidence(rows: Rows) -> tuple[Work, Read]:
    """Without limits, which ours has."""
    from sksurv.nonparametric import cumulative_incidence_competing_risks

    groups = rows.by_group(rows["days"], rows["outcome"])

    def read(found: list[Any]) -> Answer:
        return {"incidence": np.concatenate([at_days(days, risk) for days, risks in found for risk in risks[1:]])}

    return lambda exact: [cumulative_incidence_competing_risks(outcome, days) for days, outcome in groups], read


def comprisk_incidence(rows: Rows) -> tuple[Work, Read]:
    """Its variance is another one, so it is not compared."""
    from comprisk import CumulativeIncidence

    days, outcome, group = rows["days"].astype(float), rows["outcome"], rows[GROUPS]

    def read(fit: Any) -> Answer:
        keys = [(number, cause) for number in np.unique(group).tolist() for cause in range(1, OUTCOMES + 2)]
        curves = [fit.curves_[key] for key in keys]
        return {"incidence": np.concatenate([at_days(curve.times, curve.cif) for curve in curves])}

    return lambda exact: CumulativeIncidence().fit(days, outcome, group=group), read


def comprisk_gray(rows: Rows) -> tuple[Work, Read]:
    """Gray's test; any revision is the event, death competes."""
    from comprisk import gray_test

    days, event, group = rows["days"].astype(float), np.minimum(rows["outcome"], 2), rows[GROUPS]
    return lambda exact: gray_test(days, event, group, cause=2), lambda found: {"statistic": np.array([found.stat])}


def lifelines_cox(rows: Rows) -> tuple[Work, Read]:
    """Cox's model; lifelines knows Efron's ties alone."""
    import pandas as pd
    from lifelines import CoxPHFitter

    frame = pd.DataFrame(rows.levels() | {"days": rows["days"], "event": rows.revised})
    return lambda exact: CoxPHFitter().fit(frame, "days", "event", fit_options=_options(exact)), _read_lifelines_cox


def _options(exact: bool) -> dict[str, float]:
    return TO_THE_END if exact else {}


def _read_lifelines_cox(fit: Any) -> Answer:
    return {"log ratio": fit.params_.to_numpy(), "standard error": fit.standard_errors_.to_numpy()}


def sksurv_cox(rows: Rows) -> tuple[Work, Read]:
    """It gives no standard errors."""
    from sksurv.linear_model import CoxPHSurvivalAnalysis
    from sksurv.util import Surv

    matrix = np.stack(list(rows.levels().values()), axis=1)
    joints = Surv.from_arrays(rows.revised, rows["days"])

    def work(exact: bool) -> Any:
        return CoxPHSurvivalAnalysis(ties="efron", tol=1e-14 if exact else 1e-9).fit(matrix, joints)

    return work, lambda fit: {"log ratio": fit.coef_}


def lifelines_screen(rows: Rows) -> tuple[Work, Read]:
    """A model for each unit that is timed, with strata."""
    import pandas as pd
    from lifelines import CoxPHFitter

    same = {"days": rows["days"], "event": rows.revised, "stratum": rows.stratum()}
    units, last = rows.units(), int(rows[UNIT].max())
    frames = [pd.DataFrame({"own": (rows[UNIT] == unit).astype(float), **same}) for unit in units]

    def read(fits: list[Any]) -> Answer:
        found = {"log ratio": np.full(last + 1, np.nan), "standard error": np.full(last + 1, np.nan)}
        for unit, fit in zip(units, fits, strict=True):
            for name, (value,) in _read_lifelines_cox(fit).items():
                found[name][unit] = value
        return found

    def work(exact: bool) -> list[Any]:
        settings = {"strata": ["stratum"], "fit_options": _options(exact)}
        return [CoxPHFitter().fit(frame, "days", "event", **settings) for frame in frames]

    return work, read


JOBS: dict[tuple[str, str], Job] = {
    ("lifelines", "net_risk"): lifelines_net_risk,
    ("lifelines", "cox"): lifelines_cox,
    ("lifelines", "screen"): lifelines_screen,
    ("scikit-survival", "net_risk"): sksurv_net_risk,
    ("scikit-survival", "incidence"): sksurv_incidence,
    ("scikit-survival", "cox"): sksurv_cox,
    ("comprisk", "incidence"): comprisk_incidence,
    ("comprisk", "gray"): comprisk_gray,
}

ITERATED = (lifelines_cox, lifelines_screen, sksurv_cox)


def timed(job: Job, rows: Rows) -> tuple[float, Answer]:
    """Warm up on some rows, then answer from all a few times over: median seconds, and the answer."""
    job(rows.some())[0](False)
    work, read = job(rows)
    took: list[float] = []
    while not took or (len(took) < SEVERAL and sum(took) < ENOUGH):
        began = time.perf_counter()
        found = work(False)
        took.append(time.perf_counter() - began)
    return statistics.median(took), read(work(True) if job in ITERATED else found)


def main() -> None:
    """Answer one question with one library for `bench_statistics.py`."""
    library, question, folder, path = sys.argv[1], sys.argv[2], Path(sys.argv[3]), Path(sys.argv[4])
    warnings.simplefilter("ignore")  # of libraries about themselves
    rows = Rows.of(folder)
    seconds, answer = timed(JOBS[library, question], rows)
    said = version(library)
    if question == "screen":
        some, units = len(rows.units()), int(rows[UNIT].max()) + 1
        seconds *= units / some
        said += f", from {some} of {units}"
    lines = [f"version\t{said}\n", *written({"seconds": seconds}, answer)]
    path.write_text("".join(lines), encoding="utf-8")


if __name__ == "__main__":
    main()
