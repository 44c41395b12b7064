"""How alike rows are: published tables, and counts in plain Python that share nothing with the program."""

from collections import defaultdict

import polars as pl
import pytest

from regdash.extracts.classes import alike, endings, few_users, found_by_time, suppressed, without_each
from regdash.extracts.rows import HOSPITAL, PATIENT, Rows
from tests.cuts import component, joint, make_cut
from tests.extracts.made import MAKER, a_list, extract_of

# Sweeney (2002), k-anonymity: a model for protecting privacy, figure 2: race, year of birth, sex, postcode; problem.
# Written down from memory.
SWEENEY = """
black 1965 male 0214 breath|black 1965 male 0214 chest|black 1965 female 0213 hypertension
black 1965 female 0213 hypertension|black 1964 female 0213 obesity|black 1964 female 0213 chest
white 1964 male 0213 chest|white 1964 male 0213 obesity|white 1964 male 0213 breath
white 1967 male 0213 chest|white 1967 male 0213 chest
"""
# Machanavajjhala et al. (2007), l-diversity: beyond k-anonymity, figure 2: postcode, age; condition. From memory.
INPATIENTS = """
130 young heart|130 young heart|130 young viral|130 young viral
1485 old cancer|1485 old heart|1485 old viral|1485 old viral
130 thirties cancer|130 thirties cancer|130 thirties cancer|130 thirties cancer
"""


def published(text: str) -> Rows:
    cells = [row.split() for line in text.split("\n") for row in line.split("|") if row]
    names = [f"q{n}" for n in range(len(cells[0]) - 1)]
    frame = pl.DataFrame([dict(zip([*names, "ended"], row)) for row in cells])
    frame = frame.with_columns(pl.Series(PATIENT, range(len(cells))), pl.lit("H001").alias(HOSPITAL))
    return Rows(frame, tuple(names))


def test_published_tables_are_as_anonymous_as_their_authors_say():
    two, four = published(SWEENEY), published(INPATIENTS)
    assert (alike(two, 2).classes, alike(two, 2).smallest, alike(two, 2).rows_under) == (5, 2, 0)
    assert alike(two, 3).rows_under == 8  # every class but that of three
    assert (alike(four, 4).classes, alike(four, 4).smallest, alike(four, 4).classes_under) == (3, 4, 0)
    # The homogeneity attack of the second paper: all of one class have cancer.
    assert endings(four).all_same == 1
    assert endings(two).all_same == 2  # two classes of the first table have one problem each


def plain_patients(rows, over):
    """Patients by class, in plain Python."""
    found = defaultdict(set)
    for row in rows:
        found[tuple(row[name] for name in over)].add(row[PATIENT])
    return found


def drawn(store, **lines) -> Rows:
    from regdash.cohort import parse
    from regdash.extracts.rows import rows_of
    from regdash.store.cuts import Cut

    cut = Cut(store)
    try:
        return rows_of(cut, a_list(**lines), parse(""), b"key", "salt")
    finally:
        cut.close()


@pytest.mark.parametrize("k", [2, 5, 10])
def test_classes_are_counted_in_patients_as_a_plain_loop_does(store, k):
    rows = drawn(store)
    told = rows.frame.to_dicts()
    for one in without_each(rows, k):
        over = [name for name in rows.over if one.change != f"without {name}"]
        found = plain_patients(told, over)
        small = {key for key, own in found.items() if len(own) < k}
        assert (one.classes, one.smallest) == (len(found), min(map(len, found.values())))
        assert one.classes_under == len(small)
        assert one.rows_under == sum(tuple(row[name] for name in over) in small for row in told)
        assert one.patients_under == len({row[PATIENT] for row in told if tuple(row[n] for n in over) in small})
    # A register where patients have two joints: classes hold fewer patients than rows, and that is what counts.
    assert sum(len(own) for own in plain_patients(told, rows.over).values()) < len(told)


@pytest.mark.parametrize("k", [2, 3, 7, 40])
def test_no_class_of_what_stays_is_under_k_and_nothing_else_goes(store, k):
    rows = drawn(store)
    kept, left = suppressed(rows, k)
    over = rows.over
    before, after = plain_patients(rows.frame.to_dicts(), over), plain_patients(kept.frame.to_dicts(), over)
    assert all(len(own) >= k for own in after.values())
    gone = {key: before[key] for key in before if key not in after}
    assert {key for key, own in before.items() if len(own) < k} <= set(gone)
    assert all(after[key] == before[key] for key in after)
    assert left.rows == len(rows.frame) - len(kept.frame) > 0
    patients = set().union(*gone.values())
    assert left.patients == len(patients) >= k
    # What goes beside small classes is no more than it takes.
    beside = sorted(len(own) for own in gone.values() if len(own) >= k)
    assert not beside or len(patients) - beside[-1] < k


@pytest.mark.parametrize(("followed", "k"), [("months", 2), ("years", 3), ("years", 10)])
def test_rows_that_are_found_by_the_day_of_a_death_or_a_revision_are_counted(store, followed, k):
    rows = drawn(store, followed=f'"{followed}"')
    ended = [row for row in rows.frame.to_dicts() if row["ended"] != "in place"]
    over = (*rows.over, "ended", "followed")
    found = plain_patients(ended, over)
    few = sum(len(found[tuple(row[name] for name in over)]) < k for row in ended)
    assert found_by_time(rows, k) == (few, len(ended))
    assert 0 < few <= len(ended)


def test_a_single_rare_patient_does_not_go_alone(tmp_path):
    """Who knows from elsewhere how many joints there are would know that the one who is missing is rare."""
    common = [joint(patient=n, sex="female", age=60 + n % 2) for n in range(12)]
    others = [joint(patient=100 + n, sex="male", age=60) for n in range(6)]
    store = make_cut(tmp_path, [*common, *others, joint(patient=999, sex="male", age=95)])
    found = extract_of(store, a_list())
    assert found.extract.counted.under_k.patients == 7  # with the one, the smallest class beside it: six men
    assert {row["sex"] for row in found.rows} == {"female"}


def test_both_joints_of_one_patient_are_one_patient(tmp_path):
    store = make_cut(tmp_path, [joint(patient=n // 2, side=side) for n, side in enumerate(["left", "right"] * 4)])
    rows = drawn(store)
    assert (alike(rows, 5).rows, alike(rows, 5).smallest, alike(rows, 5).rows_under) == (8, 4, 8)


def test_rows_of_components_count_with_what_their_joint_has_beside_them(tmp_path):
    """
    Rows of one joint can be put together again by what they share. Five patients have KF-001 with KT-001 and one has it
    with KT-002: each implant but one is in five joints or more, the pair of the one is in one.
    """
    usual = [component("femoral", "KF-001"), component("tibial", "KT-001")]
    rare = [component("femoral", "KF-001"), component("tibial", "KT-002")]
    alone = [component("tibial", "KT-002")]
    more = {"days": 500, "ended": "died"}
    made = [joint(patient=n, hospital_id=f"H00{n % 3}", components=usual, **more) for n in range(9)]
    made += [joint(patient=20 + n, hospital_id=f"H00{n % 3}", components=alone, **more) for n in range(9)]
    made += [joint(patient=50, hospital_id="H001", components=rare, **more)]
    store = make_cut(tmp_path, made)
    found = extract_of(store, a_list(MAKER), "maker=M01", k=2)
    assert found.extract.counted.before.smallest == 1
    kept = [row["implant"] for row in found.rows]
    assert kept.count("KF-001") <= 9
    assert found.extract.counted.after.smallest >= 2


def test_an_implant_that_is_one_hospitals_is_left_out(tmp_path):
    """By hand: A is used at two hospitals by five each, B at one, C at two, all but two of it at one."""

    def used(implant: str, hospitals: dict[str, int]) -> list[dict]:
        return [
            joint(hospital_id=hospital, components=[component("tibial", implant)])
            for hospital, many in hospitals.items()
            for _ in range(many)
        ]

    made = [
        *used("KT-00A", {"H001": 5, "H002": 5}),
        *used("KT-00B", {"H001": 9}),
        *used("KT-00C", {"H001": 9, "H002": 2}),
    ]
    store = make_cut(tmp_path, made)
    found = extract_of(store, a_list(MAKER), "maker=M01")
    assert {row["implant"] for row in found.rows} == {"KT-00A"}
    assert found.extract.counted.few_users.rows == 20
    assert few_users(drawn(store), 0, 3)[1].rows == 0
