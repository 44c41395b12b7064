"""
The map of ICD-10 codes against what the classification says.

Codes, titles and the sites of chapter XIII: International Statistical Classification of Diseases and Related Health
Problems, 10th revision, World Health Organization, as of 2019; chapters II, III, XIII, XVII and XIX.
"""

import duckdb
import pytest

from regdash import icd10, vocabulary
from regdash.store.run import run

# Gonarthrosis, coxarthrosis, primary arthrosis of other joints at the shoulder, …
PUBLISHED = [
    ("M17.1", ("knee",), "osteoarthritis"),
    ("M17.3", ("knee",), "post-traumatic arthritis"),
    ("M16.1", ("hip",), "osteoarthritis"),
    ("M16.3", ("hip",), "developmental dysplasia"),
    ("M16.5", ("hip",), "post-traumatic arthritis"),
    ("M19.01", ("shoulder",), "osteoarthritis"),
    ("M19.11", ("shoulder",), "post-traumatic arthritis"),
    ("M87.05", ("hip",), "osteonecrosis"),
    ("M87.06", ("knee",), "osteonecrosis"),
    ("M87.07", (), "osteonecrosis"),  # ankle and foot
    ("M05.81", ("shoulder",), "rheumatoid arthritis"),
    ("M06.04", (), "rheumatoid arthritis"),  # hand
    ("M06.00", vocabulary.JOINTS, "rheumatoid arthritis"),  # several sites
    ("M06.0", vocabulary.JOINTS, "rheumatoid arthritis"),
    ("S72.0", ("hip",), "femoral-neck fracture"),
    ("S42.2", ("shoulder",), "proximal humeral fracture"),
    ("M75.1", ("shoulder",), "massive cuff tear"),
    ("M91.1", ("hip",), "childhood hip disease"),
    ("M93.0", ("hip",), "childhood hip disease"),
    ("Q65.8", ("hip",), "developmental dysplasia"),
    ("M36.2", vocabulary.JOINTS, "haemophilic arthropathy"),
    ("T84.1", vocabulary.JOINTS, "failed fracture fixation"),
    ("C40.0", ("shoulder",), "tumour"),
    ("J18.9", None, None),  # pneumonia: of no concern to the map
]
WELL_FORMED = ("M17", "M17.1", "M171", "M19.01", "M1901", "S72.0", "Z96.6")
MALFORMED = ("", "17.1", "M1", "m17.1", "M17.", "M17,1", "M17.123", "M 17.1", "MM7.1", "gonarthrosis", "M17.1 ")


@pytest.mark.parametrize(("code", "joints", "diagnosis"), PUBLISHED)
def test_a_code_names_the_joint_and_the_diagnosis_that_the_classification_gives_it(code, joints, diagnosis):
    assert icd10.joints_of(code) == joints
    assert icd10.diagnosis_of(code) == diagnosis
    assert icd10.joints_of(code.replace(".", "")) == joints


@pytest.mark.parametrize("code", WELL_FORMED)
def test_a_code_may_come_with_its_point_or_without(code):
    assert icd10.is_formed(code)


@pytest.mark.parametrize("code", MALFORMED)
def test_what_has_not_the_form_is_no_code(code):
    assert not icd10.is_formed(code)


def test_every_diagnosis_of_the_map_is_in_the_vocabulary():
    assert {entry.diagnosis for entry in icd10.CODES} <= set(vocabulary.DIAGNOSES)


def test_the_code_given_for_a_diagnosis_means_that_diagnosis_at_that_joint():
    given = {
        (joint, diagnosis): icd10.code_for(joint, diagnosis)
        for joint in vocabulary.JOINTS
        for diagnosis in vocabulary.OF_JOINT["diagnosis"][joint]
    }
    without = {diagnosis for (_, diagnosis), code in given.items() if code is None}
    assert without == {"other", vocabulary.NOT_RECORDED, "acute fracture"}  # of a shoulder it has a name of its own
    for (joint, diagnosis), code in given.items():
        if code is not None:
            assert icd10.is_formed(code)
            assert joint in icd10.joints_of(code)
            assert icd10.diagnosis_of(code) == diagnosis


def test_the_database_reads_codes_as_the_map_does():
    codes = [code for code, _, _ in PUBLISHED] + list(WELL_FORMED) + list(MALFORMED)
    with duckdb.connect() as connection:
        connection.execute(
            "create temp table placed_operations as select unnest($codes) as icd10_text", {"codes": codes}
        )
        run(connection, "intake/icd10_codes", icd10.code_columns())
        run(connection, "intake/read_icd10", form=icd10.FORM)
        query = "select icd10_text, icd10_is_formed, icd10_joints, icd10_diagnosis from read_icd10"
        found = {text: said for text, *said in connection.execute(query).fetchall()}
    assert set(found) == set(codes) - {""}
    for code, (formed, joints, diagnosis) in found.items():
        assert formed == icd10.is_formed(code)
        expected = icd10.joints_of(code)
        assert joints == (None if expected is None else list(expected))
        assert diagnosis == icd10.diagnosis_of(code)
