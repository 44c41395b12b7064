"""
A cut of the past can be made again from what was known then, whatever came in since.
"""

from datetime import date

import pytest

from regdash.intake.receive import receive
from regdash.store.freeze import freeze
from tests.intake.small_register import SmallRegister, primary, revision

THROUGH, THEN = date(2005, 12, 31), date(2006, 1, 31)


@pytest.mark.slow  # a receive and a cut a quarter
def test_a_cut_as_known_then_is_the_cut_made_then(tmp_path):
    register = SmallRegister(tmp_path / "in")
    first = [
        register.catalogue(),
        register.units(),
        register.operations(
            "2006-01-15",
            [
                primary("H001-0000001", 1, "2004-12-01", bmi="28.5"),
                primary("H001-0000002", 2, "2004-12-01"),
                primary("H001-0000003", 3, "2004-12-01", side=""),
                revision("H001-0000004", 3, "2005-12-01"),
            ],
            complete="2005-12-31",
        ),
        register.deaths("2006-01-31", {2: "2005-05-05"}),
    ]
    store = tmp_path / "store"
    receive(store, first)
    made_then = freeze(store, THROUGH)
    later = [
        # A correction, a late revision, a release of what was held, a second death, a changed entry.
        register.operations(
            "2006-04-15",
            [
                primary("H001-0000001", 1, "2004-12-01", bmi="31.0"),
                revision("H001-0000005", 1, "2005-06-01"),
                primary("H001-0000003", 3, "2004-12-01"),
                primary("H001-0000006", 2, "2006-02-01", side="right"),
            ],
        ),
        register.deaths("2006-04-30", {1: "2005-12-05"}),
        register.submit("catalogue", "2006-02-01", {"catalogue": [{"catalogue_no": "KF001-3A", "maker": "M09"}]}),
    ]
    receive(store, later)
    made_again = freeze(store, THROUGH, known_as_of=THEN)
    made_now = freeze(store, THROUGH)
    assert made_again.content_hash == made_then.content_hash
    assert made_again.known_as_of == made_then.known_as_of
    assert made_now.content_hash != made_then.content_hash
    assert (made_then.joints, made_then.revisions) == (2, 0)
    assert (made_now.joints, made_now.revisions) == (3, 2)
    assert [made_then.cut, made_again.cut, made_now.cut] == [f"2005-12-31.{n}" for n in (1, 2, 3)]


def test_the_second_day_of_a_register_can_be_asked_for_before_any_operation_was_known(tmp_path):
    register = SmallRegister(tmp_path / "in")
    register.catalogue()
    register.units()
    register.operations("2006-01-15", [primary("H001-0000001", 1, "2004-12-01")])
    receive(tmp_path / "store", [tmp_path / "in"])
    empty = freeze(tmp_path / "store", date(2004, 12, 31), known_as_of=date(2005, 1, 1))
    assert (empty.joints, empty.revisions) == (0, 0)
