"""The command line from end to end against figures that another program made from open data."""

import csv
import math
from datetime import date, timedelta
from pathlib import Path

from tests.cli.asking import regdash
from tests.cuts import THROUGH, joint, make_cut

REFERENCE = Path(__file__).parent.parent / "reference"
MINIMUM_AT_RISK = 40


def reference(name: str) -> list[dict[str, str]]:
    with (REFERENCE / f"{name}.csv").open(newline="") as file:
        return list(csv.DictReader(file))


def test_a_risk_in_json_is_that_of_r_on_the_lung_data(tmp_path):
    """
    R 4.2.2, survival 3.5-3: survfit(Surv(time, status) ~ sex, lung, conf.type = "log-log"); see tests/reference.

    A death of the data stands for a revision. At each event time with 40 or more at risk the estimate and its
    limits are R's; with fewer they are withheld.
    """
    sexes = {"1": "male", "2": "female"}
    patients = [
        joint(
            sex=sexes[row["sex"]],
            implanted_date=THROUGH - timedelta(days=2000),
            days=int(row["time"]),
            ended="revised" if row["status"] == "2" else "lost",
        )
        for row in reference("data_lung")
    ]
    store = make_cut(tmp_path, patients)
    expected = {(sexes[row["group"]], int(row["time"])): row for row in reference("km_lung_sex")}
    days = sorted({day for _, day in expected})
    years = ",".join(repr(day / 365.25) for day in days)
    rows = regdash("risk", "--by", "sex", "--years", years, "--json", store=store).json["rows"]
    found = {(row["group"], round(row["years"] * 365.25)): row for row in rows}
    shown = 0
    for key, r in expected.items():
        row = found[key]
        # R counts who is at risk just before the day, and the table who is still followed on it.
        if row["at_risk"] >= MINIMUM_AT_RISK and int(r["n_event"]):
            shown += 1
            for field, value in (("estimate", "surv"), ("lower", "upper"), ("upper", "lower")):
                assert math.isclose(row[field], 1 - float(r[value]), rel_tol=0, abs_tol=1e-10)
        if row["at_risk"] < MINIMUM_AT_RISK:
            assert (row["estimate"], row["withheld"]) == (None, "fewer than 40 joints at risk")
    assert shown > 60


def test_a_rate_in_csv_has_the_exact_poisson_limits_of_r(tmp_path):
    """R 4.2.2: poisson.test(x, conf.level = conf)$conf.int; see tests/reference. Ten revisions in 1,000 years."""
    (r,) = [row for row in reference("poisson_limits") if (row["conf"], row["x"]) == ("0.95", "10")]
    ends = [{"ended": "revised", "reason": "infection"}] * 10 + [{"ended": "in place"}] * 40
    joints = [joint(implanted_date=date(1990, 1, 1), days=20 * 1461 // 4, **end) for end in ends]
    (row,) = regdash("rates", "--csv", store=make_cut(tmp_path, joints)).csv
    assert (float(row["implant_years"]), row["revisions"]) == (1000, "10")
    assert math.isclose(float(row["per_100_implant_years"]), 1)
    assert math.isclose(float(row["lower"]), float(r["exact_lower"]) / 10, rel_tol=1e-10)
    assert math.isclose(float(row["upper"]), float(r["exact_upper"]) / 10, rel_tol=1e-10)
