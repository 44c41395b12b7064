"""What rules found in submitted rows: counted and listed from a cut's own rows, against plain recounts of them."""

from collections import Counter
from pathlib import Path

import duckdb
import pytest

from regdash.errors import FilterError, PolicyError, StoreError
from regdash.reports.desk import Desk
from regdash.reports.findings import COLUMNS
from regdash.reports.policy import Policy
from regdash.store.cuts import cut_path
from regdash.store.held import held_in_cut
from regdash.store.rules import SEVERITIES, all_rules
from tests.cuts import NAME, joint, make_cut
from tests.reports.desks import EVERYTHING, asked

# submission, sender, file, row, record, rule, version, severity, value, text
HELD = [
    ("H001-0001", "H001", "operations", 3, "H001-0000003", "side-missing", 1, "hold", "", "The side is missing."),
    ("H001-0002", "H001", "operations", 1, "H001-0000009", "side-missing", 1, "hold", "x", "The side is missing."),
    ("H002-0001", "H002", "operations", 7, "H002-0000007", "side-missing", 1, "hold", "", "The side is missing."),
    ("H002-0001", "H002", "operations", 8, "H002-0000008", "patient-form", 1, "reject", "P12", "No such number."),
    ("deaths-0001", "office", "deaths", 2, "P000000077", "date-unreadable", 1, "reject", "2019-13-01", "No date."),
]
NOTED = [
    ("H001-0002", "H001", "components", 4, "H001-0000004", "lot-missing", 1, "warn", None, "The lot is missing."),
    ("H002-0001", "H002", "components", 5, "H002-0000005", "lot-missing", 1, "warn", None, "The lot is missing."),
]
PATIENTS = ("P12", "P000000077")


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    store = make_cut(tmp_path_factory.mktemp("store"), [joint(), joint(hospital_id="H002")])
    with duckdb.connect(str(cut_path(store, NAME))) as connection:
        for table, rows in (("held_rows", HELD), ("noted_rows", NOTED)):
            connection.executemany(f"insert into {table} values ({', '.join('?' * 10)})", rows)
    return store


@pytest.fixture
def desk(store: Path) -> Desk:
    return Desk(store)


def test_rows_are_counted_by_sender_file_and_rule(desk: Desk) -> None:
    report = desk.findings(EVERYTHING)
    counted = Counter((row[1], row[2], row[5], row[7]) for row in [*HELD, *NOTED])
    assert {(r.hospital, r.file, r.rule, r.severity): r.rows for r in report.rows} == dict(counted)


def test_sums_over_senders_and_over_rules_are_those_of_the_rows(desk: Desk) -> None:
    report = desk.findings(EVERYTHING)
    rules = Counter((row[2], row[5]) for row in [*HELD, *NOTED])
    assert {(r.file, r.rule): r.rows for r in report.rules} == dict(rules)
    assert {(r.file, r.rule): r.hospitals for r in report.rules}["operations", "side-missing"] == 2
    severities = Counter((row[1], row[7]) for row in [*HELD, *NOTED])
    found = {(r.hospital, severity): n for r in report.hospitals for severity, n in r.by.items() if n}
    assert found == dict(severities)
    assert report.by == {severity: sum(r[7] == severity for r in [*HELD, *NOTED]) for severity in SEVERITIES}


def test_the_gravest_rules_come_first(desk: Desk) -> None:
    places = [SEVERITIES.index(row.severity) for row in desk.findings(EVERYTHING).rules]
    assert places == sorted(places)


def test_a_filter_on_the_hospital_is_followed_and_other_words_are_named(desk: Desk) -> None:
    report = desk.findings(asked(desk, "hospital=H002 joint=knee"))
    assert {row.hospital for row in report.rows} == {"H002"}
    assert (report.head.followed, report.head.not_followed) == (("hospital=H002",), ("joint=knee",))
    but = desk.findings(asked(desk, "hospital!=H002"))
    assert {row.hospital for row in but.rows} == {"H001", "office"}


def test_what_keeps_rows_back_is_what_the_command_lists(desk: Desk, store: Path) -> None:
    told = {(row.submission, row.row, row.rule): row.text for row in held_in_cut(store)[1]}
    listed = [row for row in desk.found_rows(EVERYTHING).rows if row.severity in ("hold", "reject")]
    assert {(row.submission, f"{row.file}:{row.row}", row.rule) for row in listed} == set(told)
    for row in listed:
        if row.record and row.rule != "patient-form":
            assert row.text == told[row.submission, f"{row.file}:{row.row}", row.rule]


def test_no_row_shows_a_patients_number(desk: Desk) -> None:
    rows = desk.found_rows(EVERYTHING).rows
    assert len(rows) == 7
    assert not [row for row in rows for number in PATIENTS if number in f"{row} {row.text}"]


def test_only_one_rule_shows_a_patients_number_so_only_that_one_is_silenced() -> None:
    assert {rule.name for rule in all_rules() if "patient_id" in rule.shows} == {"patient-form"}


def test_pages_of_any_order_are_the_whole_list(desk: Desk) -> None:
    whole = desk.found_rows(EVERYTHING).rows
    for column in COLUMNS:
        for sign in ("", "-"):
            pages = [desk.found_rows(EVERYTHING, offset=n, limit=2, order=sign + column).rows for n in (0, 2, 4, 6)]
            listed = [row for page in pages for row in page]
            assert sorted(listed, key=repr) == sorted(whole, key=repr)
            values = [value for row in listed if (value := getattr(row, column)) is not None]
            assert values == sorted(values, reverse=sign == "-")


def test_rows_of_one_rule_and_file_are_counted_beside_their_page(desk: Desk) -> None:
    report = desk.found_rows(EVERYTHING, rule="side-missing", file="operations", limit=1)
    assert (report.total, len(report.rows)) == (3, 1)


UNITS = [
    ("hospital", "H001", "field-often-empty", 1, "warn", "2023", "bmi", 0.31, 0.08, "Why is it empty?"),
    ("hospital", "H002", "many-on-a-day", 1, "note", "2024-03-04", None, 12.0, None, "Is that right?"),
    ("surgeon", "S0001", "many-on-a-day", 1, "note", "2024-03-04", None, 9.0, None, "Is that right?"),
]


def test_unusual_figures_are_listed_the_latest_first_and_surgeons_whichever_hospital_is_asked_for(
    tmp_path: Path,
) -> None:
    store = make_cut(tmp_path, [joint(), joint(hospital_id="H002")])
    with duckdb.connect(str(cut_path(store, NAME))) as connection:
        connection.executemany(f"insert into unit_findings values ({', '.join('?' * 10)})", UNITS)
    desk = Desk(store)
    rows = desk.units(EVERYTHING).rows
    assert [(row.unit, row.figure, row.usual) for row in rows] == [
        ("H002", 12.0, None),
        ("S0001", 9.0, None),
        ("H001", 0.31, 0.08),
    ]
    assert [row.unit for row in desk.units(asked(desk, "hospital=H001")).rows] == ["S0001", "H001"]
    withheld = Desk(store, policy=Policy(withhold_counts_under=5)).units(EVERYTHING).rows
    assert {(row.figure, row.usual) for row in withheld} == {(None, None)}
    assert all(row.withheld for row in withheld)


def test_the_contents_of_any_cut_of_the_store_are_counted(desk: Desk) -> None:
    kept_back = sum(row[7] in ("hold", "reject") for row in HELD)
    own = desk.contents(NAME)
    assert (own.joints, own.held, own.linked_share) == ({"knee": 2}, kept_back, None)
    assert {rule.severity for rule in own.rules} == {"hold", "reject"}
    with pytest.raises(StoreError, match="There is no data cut 2001-12-31"):
        desk.contents("2001-12-31.1")


def test_another_cut_is_counted_while_one_is_open(tmp_path: Path) -> None:
    make_cut(tmp_path, [joint()], name="2023-12-31.1")
    make_cut(tmp_path, [joint(), joint()], name="2024-12-31.1")
    desk = Desk(tmp_path)
    assert [desk.contents(name).joints for name in ("2023-12-31.1", "2024-12-31.1")] == [{"knee": 1}, {"knee": 2}]


def test_a_column_that_is_not_there_is_refused_with_the_nearest(desk: Desk) -> None:
    with pytest.raises(FilterError, match="Rows have no column rul"):
        desk.found_rows(EVERYTHING, order="rul")


def test_small_counts_are_withheld_and_single_rows_refused(store: Path) -> None:
    desk = Desk(store, policy=Policy(withhold_counts_under=3))
    report = desk.findings(EVERYTHING)
    assert {row.rows for row in report.rows} == {None}
    assert {(r.file, r.rule): r.rows for r in report.rules}["operations", "side-missing"] == 3
    with pytest.raises(PolicyError):
        desk.found_rows(EVERYTHING)
