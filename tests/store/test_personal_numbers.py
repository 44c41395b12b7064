"""What looks like a person's number is refused and hidden; dates, counts and codes of an office's work are not."""

from pathlib import Path

import pytest

from regdash.errors import InputError
from regdash.store.link_decisions import decide
from regdash.store.office import office_path
from regdash.store.personal_numbers import HIDDEN_NUMBER, refuse_personal, without_numbers
from regdash.store.signal_reviews import reason_of

# Made of the parts that national numbers commonly have: a date of birth and a serial part, or ten digits in groups.
PERSONAL = [
    "19450312-1234",
    "19450312 1234",
    "194503121234",
    "19450312+123A",
    "450312-1234",
    "4503121234",
    "120345-123A",
    "120345 12345",
    "12034512345",
    "010145/1234",
    "450312/123",
    "943 476 5919",
    "943-476-5919",
    "1945-03-12",
    "12.03.1945",
    "12/3/1945",
    "19450312",
    "12031945",
]
ORDINARY = [
    "2024-03-01",
    "20240301",
    "1.3.2024",
    "2024-03-01 120 joints",
    "2024-12-31.1",
    "1,234 of 20,164 joints",
    "1234567 rows",
    "serial 120345678",
    "12345678",
    "450312",
    "H012-0000077",
    "operation H001-0012345 and H001-0012346",
    "submission 20240301-0001",
    "catalogue KT017-5C lot L2041",
    "(01)07612345678900(17)280331(10)L0002554",
    "07612345678900",
    "5 to 10 years, ratio 1.25 (1.01 to 1.55)",
    "2015..2018",
    "q=0.0289 version 1, hash 006c2db1a05f",
    "call 112",
    "born in the register of 2024",
    "",
]


@pytest.mark.parametrize("number", PERSONAL)
@pytest.mark.parametrize("around", ["{}", "asked about {} by mail", "({})", "{}, twice", "see {}."])
def test_numbers_of_persons_are_refused_without_being_repeated_and_hidden_whole(number: str, around: str) -> None:
    text = around.format(number)
    with pytest.raises(InputError) as refusal:
        refuse_personal(text)
    assert number not in str(refusal.value)
    assert "\n" not in str(refusal.value)
    assert without_numbers(text) == around.format(HIDDEN_NUMBER)


@pytest.mark.parametrize("text", ORDINARY)
def test_dates_counts_and_codes_of_the_office_are_kept(text: str) -> None:
    assert refuse_personal(text) == text
    assert without_numbers(text) == text


@pytest.mark.parametrize(
    "text", ["born 1972-05-01", "date of birth: 01.05.1972", "DOB 1/5/72", "birthday is 1972-05-01"]
)
def test_a_date_that_is_called_one_of_birth_is_refused_whatever_its_year(text: str) -> None:
    with pytest.raises(InputError):
        refuse_personal(text)
    assert without_numbers(text).endswith(HIDDEN_NUMBER)


def test_reasons_of_links_and_signals_are_refused_before_anything_is_written(tmp_path: Path) -> None:
    with pytest.raises(InputError):
        decide(tmp_path, "H001-0000002", "H001-0000001", "accepted", "the card says 450312-1234")
    with pytest.raises(InputError):
        reason_of("under review", "asked about 19450312-1234")
    assert not office_path(tmp_path).exists()
    assert reason_of("under review", "asked on 2024-03-01") == "asked on 2024-03-01"
