"""Answers about units and records on the screen beside those of the command line."""

from tests.dashboard.answers import Json, Reader, compare_risks, counted, one, percents
from tests.dashboard.painted import Painted, reads


def units(kind: str) -> Reader:
    """Joints, revisions and risk of each hospital or surgeon in view."""

    def compare(shown: Painted, answer: Json) -> None:
        counted(shown, answer)
        assert f"{len(answer['rows'])} in the order of codes" in shown.text
        assert [cells[kind] for cells in shown.rows] == [row["group"] for row in answer["rows"]][: len(shown.rows)]
        for cells in shown.rows:
            row = one(answer["rows"], group=cells[kind])
            assert reads(cells["joints"], row["joints"]), cells
            assert reads(cells["last 365 d"], row["joints_last_365_days"]), cells
        compare_risks(shown, answer["rows"], kind, at_least=3)

    return compare


def cases(shown: Painted, answer: Json) -> None:
    """Joints of a surgeon that were revised for one reason: all that the command has of it, and no other."""
    group, reason = shown.lines[0].split("data cut")[0].strip().split(" › ")[-2:]
    of = {row["joint_id"]: row for row in answer["rows"] if row["class"] == group and row["reason"].startswith(reason)}
    assert of
    assert shown.lines[2].startswith(f" {len(of)} joints")
    assert {cells["joint"] for cells in shown.rows} == set(of)
    for cells in shown.rows:
        row = of[cells["joint"]]
        assert (cells["ended"], cells["reason"]) == (row["ended"], row["reason"])
        assert (cells["implanted▲"], cells["age"]) == (row["implanted_date"], str(row["age"]))
        assert reads(cells["years"], row["followed_years"], 2)


def feeds(shown: Painted, answer: Json) -> None:
    """Through when each feed is complete, and how far behind it is."""
    assert len(shown.rows) > 10
    for cells in shown.rows:
        row = one(answer["rows"], sender=cells["sender"], feed=cells["feed"])
        assert cells["complete through"] == row["complete_through"]
        assert reads(cells["days behind"], row["days_behind"])


def completeness(shown: Painted, answer: Json) -> None:
    """Operations in the cut over those that administrative systems count."""
    assert len(shown.rows) > 10
    for cells in shown.rows:
        row = one(answer["rows"], group=f"{cells['hospital']}, {cells['kind']}")
        assert reads(cells["in the cut"], row["registered"])
        assert reads(cells["counted"], row["counted"])
        assert reads(cells["complete %"], *percents(row, "completeness"), 1)


def delays(shown: Painted, answer: Json) -> None:
    """Days from an operation to its record."""
    assert len(shown.rows) > 10
    for cells in shown.rows:
        row = one(answer["rows"], group=cells["hospital"])
        assert reads(cells["operations"], row["operations"])
        assert reads(cells["median d"], row["median_days"])
        assert reads(cells["90th d"], row["ninetieth_days"])
        assert reads(cells["in 90 d %"], *percents(row, "within_90"), 1)


def triangle(shown: Painted, answer: Json) -> None:
    """Operations of a quarter by when their records came."""
    assert len(shown.rows) > 10
    for cells in shown.rows:
        rows = [row for row in answer["rows"] if row["operated"] == cells["operated"]]
        if rows:  # the command tells of the newest
            assert reads(cells["so far"], rows[-1]["so_far"])
            for later in range(3):
                came = [row["operations"] for row in rows if row["months"] == 3 * later]
                assert f"+{later}" not in cells or reads(cells[f"+{later}"], sum(came)), cells


def missing(shown: Painted, answer: Json) -> None:
    """Fields that are not recorded, by hospital."""
    found = 0
    assert len(shown.rows) > 10
    for cells in shown.rows:
        for hospital in [title for title in cells if title.startswith("H")]:
            (row,) = [r for r in answer["rows"] if (r["group"], r["field"]) == (hospital, cells["field"])] or [None]
            assert reads(cells[hospital], *(percents(row, "share") if row else [None]), 1), cells
            found += row is not None
    assert found > 50


def unlinked(by: str) -> Reader:
    """Knee revisions without a primary, by why; the classes that are in view."""

    def compare(shown: Painted, answer: Json) -> None:
        knees = [row for row in answer["rows"] if row["joint"] == "knee"]
        classes = {row["class"] for row in knees}
        found = 0
        assert len(shown.rows) > 10
        for cells in shown.rows:
            rows = {row["class"]: row["revisions"] for row in knees if str(row[by]) == cells[by]}
            for title in classes & set(cells):
                assert reads(cells[title], rows.get(title, 0)), cells
                found += 1
            assert reads(cells["linked"], int(cells["revisions"]) - sum(rows.values()))
        assert found > 10

    return compare


def to_review(shown: Painted, answer: Json) -> None:
    """Pairs of a revision and a primary that could be its own."""
    pairs = {(row["revision_id"], row["primary_id"]): row for row in answer["rows"]}
    assert shown.rows
    for cells in shown.rows:
        row = pairs[cells["revision"], cells["primary"]]
        assert (cells["method"], cells["how sure"]) == (row["method"], row["confidence"])
