"""Follow-up as an extract tells it: no exact day follows from it, and estimates are those of the register."""

from collections import defaultdict
from datetime import date, timedelta

import numpy as np
import pytest
from lifelines import KaplanMeierFitter

from regdash.cohort import parse
from regdash.extracts.calendar import told_date
from regdash.extracts.coarseness import read_coarseness
from regdash.reports.desk import Desk
from tests.cuts import THROUGH, hip, joint, make_cut
from tests.extracts.made import a_list, extract_of

WAYS = ("year", "quarter", "month", "years of 5")


def periods(way: str) -> dict[str, list[date]]:
    """Every day of some twenty years, by the period that it is told as."""
    found = defaultdict(list)
    for n in range(7670):
        day = date(2005, 1, 1) + timedelta(days=n)
        found[plain_label(day, way)].append(day)
    return {label: days for label, days in found.items() if days[-1] < date(2025, 12, 31)}


def plain_label(day: date, way: str) -> str:
    """How a date is told, said in another way than the program says it."""
    if way == "years of 5":
        return f"{day.year - day.year % 5}-{day.year - day.year % 5 + 4}"
    return {"year": f"{day.year}", "quarter": f"{day.year}Q{-(-day.month // 3)}", "month": day.isoformat()[:7]}[way]


@pytest.mark.parametrize("through", [THROUGH, date(2024, 8, 15)])
@pytest.mark.parametrize("way", WAYS)
def test_every_day_of_a_period_is_told_alike_and_has_been_followed_that_long(way, through):
    how = read_coarseness("implanted", "date", (), way)
    for label, days in periods(way).items():
        told = {told_date(day, how, through) for day in days}
        assert len(told) == 1
        (one,) = told
        assert one.label == label
        # Whole months of follow-up that even the last day of the period has; or none, where it has not ended.
        assert one.months * 365.25 / 12 <= max((through - days[-1]).days, 0)
        step = {"year": 12, "quarter": 3, "month": 1, "years of 5": 12}[way]
        assert one.months % step == 0
        assert (one.months + step) * 365.25 / 12 > (through - days[-1]).days


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("followed", ["months", "quarters", "days"])
def test_a_joint_in_place_tells_no_more_of_its_date_than_the_list_does(tmp_path, way, followed):
    """All are followed to the end of the cut, so days of follow-up would tell the day of each primary."""
    days = [date(2008, 1, 1) + timedelta(days=37 * n) for n in range(160)]
    twice = [joint(implanted_date=day, days=(THROUGH - day).days) for day in days for _ in range(2)]
    store = make_cut(tmp_path, twice)
    found = extract_of(store, a_list(implanted=f'"{way}"', followed=f'"{followed}"'), k=2)
    lengths = defaultdict(set)
    for row in found.rows:
        assert row["ended"] == "in place"
        lengths[row["implanted"]].add(row["followed"])
    assert len(lengths) > 2
    assert all(len(told) == 1 for told in lengths.values())


def test_the_risk_from_the_rows_is_that_of_the_register_where_all_are_followed_so_long(tmp_path, joints):
    """lifelines' Kaplan-Meier from the rows that went out, beside the desk's answer from every day of the data cut."""
    store = make_cut(tmp_path, [row for row in joints if row["joint"] == "knee"])
    plain = {"quasi_identifiers": '["joint", "implanted"]', "followed": '"days"', "age": '"none"', "sex": '"none"'}
    found = extract_of(store, a_list(**plain), "implanted=..2014", k=2)
    assert found.extract.counted.under_k.rows == 0
    days, revised = zip(*((int(row["followed"]), row["ended"] == "revised") for row in found.rows))
    own = KaplanMeierFitter().fit(days, revised)
    desk = Desk(store)
    report = desk.risk(parse("implanted=..2014"), (), (1.0, 5.0, 10.0))
    desk.close()
    assert report.head.joints == len(found.rows)
    for row in report.rows:
        assert row.estimate is not None
        assert row.estimate > 0
        assert 1 - own.predict(int(row.years * 365.25)) == pytest.approx(row.estimate, abs=1e-12)
    # What is told ends earlier than what the register has: later revisions are not there.
    assert sum(revised) < report.head.revisions


def test_what_happened_after_the_end_of_what_is_told_is_not_told(tmp_path):
    """By hand: of primaries of 2020, followed to the end of 2024, four whole years are told: 48 months, 1,461 days."""
    day = date(2020, 2, 1)
    more = {"implanted_date": day, "hospital_id": "H001"}
    made = [
        joint(days=1461, ended="revised", reason="infection", stem_used=True, **more),
        joint(days=1462, ended="revised", reason="infection", stem_used=True, **more),
        joint(days=1500, ended="died", **more),
        joint(days=700, ended="died", **more),
        joint(days=700, ended="lost", **more),
        joint(days=700, **more),  # its hospital's records end earlier
        joint(days=(THROUGH - day).days, **more),
    ]
    found = extract_of(make_cut(tmp_path, made), a_list())
    told = sorted((row["followed"], row["ended"], row["reason"], row["stem"]) for row in found.rows)
    assert told == [
        ("12", "in place", "", ""),
        ("22", "died", "", ""),
        ("22", "lost", "", ""),
        ("48", "in place", "", ""),
        ("48", "in place", "", ""),
        ("48", "in place", "", ""),
        ("48", "revised", "infection", "true"),
    ]


def test_bands_words_and_numbers_are_as_the_list_says(tmp_path):
    more = {"implanted_date": date(2015, 5, 5)}
    made = [
        joint(age=49, bmi=24.9, diagnosis="osteoarthritis", **more),
        joint(age=50, bmi=25.0, diagnosis="tumour", **more),
        joint(age=69, bmi=30.4, diagnosis="not recorded", **more),
        joint(age=70, bmi=30.5, diagnosis="osteonecrosis", **more),
        joint(age=90, bmi=None, diagnosis="other", **more),
        hip(age=50, head_size=36, **more),
    ]
    found = extract_of(make_cut(tmp_path, [*made, *made]), a_list(), k=2)
    told = sorted({(row["age"], row["bmi"], row["diagnosis"], row["head"]) for row in found.rows})
    assert told == [
        ("50-69", "25 to under 30.5", "not recorded", ""),
        ("50-69", "25 to under 30.5", "osteoarthritis", "36"),
        ("50-69", "25 to under 30.5", "tumour", ""),
        ("70-89", "30.5 and over", "other", ""),
        ("90 and over", "not recorded", "other", ""),
        ("under 50", "under 25", "osteoarthritis", ""),
    ]


def test_every_number_falls_into_the_band_that_plain_arithmetic_gives(store, joints):
    found = extract_of(store, a_list(), k=2)
    kept = defaultdict(int)
    for row in found.rows:
        kept[row["bmi"]] += 1
    desk = Desk(store)
    total = desk.manifest.joints
    desk.close()
    assert total == len(joints)
    bmi = np.array([float(row["bmi"]) if row["bmi"] is not None else np.nan for row in joints])
    plain = {
        "under 25": int((bmi < 25).sum()),
        "25 to under 30.5": int(((bmi >= 25) & (bmi < 30.5)).sum()),
        "30.5 and over": int((bmi >= 30.5).sum()),
        "not recorded": int(np.isnan(bmi).sum()),
    }
    left = found.extract.counted.under_k.rows
    assert set(kept) == set(plain)
    assert sum(plain.values()) - sum(kept.values()) == left
    assert all(0 <= plain[band] - kept[band] <= left for band in plain)
