"""
A surgeon's volume before each operation, against counting the days one by one.
"""

import random
from collections import defaultdict
from datetime import date, timedelta

import duckdb

from regdash.intake.receive import receive
from regdash.store.cuts import cut_path
from regdash.store.freeze import freeze
from tests.intake.small_register import SmallRegister, partial, primary


def test_volume_is_what_counting_the_days_before_gives(tmp_path):
    rng = random.Random(5)
    rows = []
    for n in range(1, 301):
        make = rng.choice((primary, primary, partial))
        day = date(2003, 1, 1) + timedelta(days=rng.randint(0, 900))
        surgeon = rng.choice(("S0001", "S0002", ""))
        rows.append(make(f"H001-{n:07d}", n, day.isoformat(), surgeon_id=surgeon))
    register = SmallRegister(tmp_path / "in")
    register.catalogue()
    register.submit(
        "units",
        "2000-01-01",
        {"hospitals": [{"hospital_id": "H001"}], "surgeons": [{"surgeon_id": "S0001"}, {"surgeon_id": "S0002"}]},
    )
    register.operations("2006-01-15", rows)
    receive(tmp_path / "store", [tmp_path / "in"])
    manifest = freeze(tmp_path / "store", date(2005, 12, 31))
    with duckdb.connect(str(cut_path(tmp_path / "store", manifest.cut)), read_only=True) as cut:
        found = dict(cut.execute("select operation_id, surgeon_volume from follow_up").fetchall())

    days: dict[tuple[str, str], list[date]] = defaultdict(list)
    firsts: dict[str, date] = {}
    for row in rows:
        surgeon, day = row["surgeon_id"], date.fromisoformat(row["operation_date"])
        days[surgeon, row["class"]].append(day)
        firsts[surgeon] = min(day, firsts.get(surgeon, day))

    def counted(row: dict[str, str]) -> int | None:
        surgeon, day = row["surgeon_id"], date.fromisoformat(row["operation_date"])
        if not surgeon or (day - firsts[surgeon]).days < 365:
            return None
        return sum(1 <= (day - other).days <= 365 for other in days[surgeon, row["class"]])

    assert found == {row["operation_id"]: counted(row) for row in rows}
    assert len({volume for volume in found.values() if volume}) > 10
