"""The place of implants: signals, which rows are listed, and decisions on them, by keys."""

import pytest

from regdash.dashboard import row_words
from regdash.dashboard.row_words import RowWord
from regdash.errors import FilterError
from regdash.store import signal_reviews
from tests.dashboard.driving import driven
from tests.dashboard.fake_desk import FakeDesk

WORDS = (RowWord("ratio", "ratio"), RowWord("revised", "revisions"), RowWord("state", "review", is_text=True))
VALUES = (
    {"ratio": 2.5, "revised": 20, "state": "under review"},
    {"ratio": 1.0, "revised": 5, "state": "new"},
    {"ratio": None, "revised": 1, "state": "watching"},
)


def listed(text: str) -> list[str]:
    """The codes and windows that are shown, the cursor left out."""
    return [" ".join(line[1:].split()[:2]) for line in text.splitlines() if line[1:3] in ("KF", "KT", "UF", "UT")]


async def test_the_list_says_what_a_signal_is_how_many_may_be_false_and_what_is_new():
    async with driven() as on:
        await on.press("5")
        assert "4 tests, 2 signals; at most 0.1 of them expected to be false" in on.text
        assert "A signal starts a review and shows no cause." in on.text
        assert "1 first seen, 1 again, 1 not" in on.text
        assert listed(on.text) == ["KF-017 all", "KT-017 all", "UF-004 all", "UT-004 all", "KF-017 0..1"]
        assert "first seen: new events. 44 to 52 revised (+6 new events" in on.text
        await on.press("down")
        assert "seen again: late events." in on.text
        await on.press("x")
        assert "expected 27.8 to 29.1; q 0.0702 to 0.0001" in " ".join(on.text.split())
        await on.press("escape", *["down"] * 2)
        assert "not tested: too few joints or expected revisions" in on.text


async def test_the_first_screen_is_painted_before_the_cut_before_is_looked_at():
    desk = FakeDesk()
    desk.earlier = None
    async with driven(desk=desk) as on:
        await on.press("5")
        assert len(on.asked("signals")) == 2
        assert "first seen" not in on.text


async def test_every_column_is_reached_and_its_figures_are_whole_at_80_columns():
    async with driven() as on:
        await on.press("5")
        seen = on.lines[5]
        for _ in range(5):
            await on.pilot.press(*["right"] * 5)
            await on.settled()
            assert listed(on.text)[0].startswith("KF-017")
            seen += on.lines[5]
        for title in ("years", "expected", "joints", "crude", "shrunk", "above", "class", "role", "decided by"):
            assert title in seen
        assert "…" not in "".join(on.lines[5:11])


async def test_quarters_that_were_screened_once_stand_in_a_column_that_orders_and_chooses():
    desk = FakeDesk()
    desk.remember_history()
    async with driven(desk=desk) as on:
        await on.press("5", *["right"] * 8)
        assert "quarters" in on.lines[5]
        assert "." * 18 + "##" in on.at_cursor()  # the newest 20
        assert on.at_cursor().endswith("##")
        assert "first a signal in 2024Q3, in 2 quarters so far · first seen: new events" in on.text
        await on.press("o")
        assert listed(on.text)[0].startswith("KT-017")
        await on.press("f")
        await on.type("times=2")
        await on.press("enter")
        assert [row[:6] for row in listed(on.text)] == ["KF-017", "KF-017"]
        await on.press("k")
        assert "constructs" in on.lines[1]


async def test_rows_are_found_by_any_column_and_the_count_is_said_as_it_is_typed():
    async with driven() as on:
        await on.press("5", "f")
        await on.type("ratio>1.5 q<0.05")
        assert "2 of 5 rows" in on.text
        await on.press("enter")
        assert listed(on.text) == ["KF-017 all", "KT-017 all"]
        assert "ratio>1.5 q<0.05: 2 of 5 rows" in on.lines[1]
        await on.press("f")
        await on.pilot.press("ctrl+u")
        await on.type("seen=n")
        await on.press("tab")
        assert "seen=not-seen" in on.text
        await on.press("enter")
        assert listed(on.text) == ["UF-004 all"]
        assert on.lines[-2].startswith(" not seen")  # of the row that came under the cursor
        await on.press("f")
        await on.pilot.press("ctrl+u")
        await on.type("rato>2")
        await on.press("enter")
        assert "There is no column rato. Nearest: ratio" in on.text
        await on.press("escape", "f")
        await on.pilot.press("ctrl+u")
        await on.press("enter")
        assert len(listed(on.text)) == 5


async def test_a_code_is_jumped_to_by_its_letters():
    async with driven() as on:
        await on.press("5", "K")
        await on.type("T")
        await on.press("enter")
        assert on.at_cursor().startswith("▸KT-017")
        await on.press("j")
        await on.type("004")
        await on.press("enter")
        assert on.at_cursor().startswith("▸UF-004")
        await on.press("j")
        await on.type("ZZ")
        await on.press("enter")
        assert "There is no code ZZ among these rows." in on.text
        await on.press("escape", "enter")
        assert "› UF-004" in on.lines[0]


async def test_kinds_follow_each_other_and_the_command_names_them():
    async with driven("class=total") as on:
        await on.press("5", "k")
        assert str(on.asked("signals")[-1]) == "constructs class=total"
        assert "constructs" in on.lines[1]
        assert on.lines[5].split()[0] == "construct"
        await on.press("k", "k", "x", "end")
        assert "regdash signals list class=total --kind lots" in on.text
        await on.press("escape", "k")
        assert on.lines[5].split()[0] == "implant"


async def test_a_review_is_moved_on_and_its_life_is_shown():
    async with driven() as on:
        await on.press("5", "down", "s")
        assert "KT-017: new. Where does its review go, and why?" in on.text
        assert "confirmed" not in on.text  # nobody has looked at it
        await on.type("under")
        await on.press("tab")
        await on.type("asked")
        await on.press("enter")
        assert on.asked("decide") == [("KT-017", "under review", "asked", "every", 0)]
        assert "Kept: KT-017 is under review (decision 1)." in on.text
        assert "under review" in on.at_cursor()
        await on.press("up", "down")
        assert "seen again: late events" in on.text
        await on.press("s")
        for said in ("1  under review: analyst 2, 2025-02-10 09:30:00 UTC", "because: asked", "rests on"):
            assert said in on.text
        await on.type("all confirmed seen")
        assert "of the window all alone" in on.text
        await on.press("enter")
        assert on.asked("decide")[-1] == ("KT-017", "confirmed", "seen", "all", 1)


async def test_what_cannot_be_decided_is_said_and_nothing_is_asked(monkeypatch):
    monkeypatch.setattr(signal_reviews, "MOST_CHARACTERS", 16)
    async with driven() as on:
        await on.press("5", "s")
        for typed, told in (
            ("confirmed because", "KF-017 is new, and cannot become confirmed from there."),
            ("good", "There is no state good."),
            ("watching ", "Why watching?"),
            ("watching because of it all", "The reason has 17 characters; at most 16 are kept."),
        ):
            await on.pilot.press("ctrl+u")
            await on.type(typed)
            await on.press("enter")
            assert told in on.text
        await on.press("escape")
        assert on.asked("decide") == []


async def test_without_a_row_there_is_nothing_to_decide_on():
    async with driven() as on:
        await on.press("5", "f")
        await on.type("ratio>99")
        await on.press("enter", "s")
        assert "no rows: f finds other rows, / other joints" in on.text
        assert "There is no row to decide on." in on.text


async def test_who_decided_meanwhile_is_said_and_the_list_is_asked_again():
    desk = FakeDesk()
    desk.meanwhile = "KF-017 was decided meanwhile: closed, by analyst 3."
    async with driven(desk=desk) as on:
        await on.press("5", "s")
        await on.type("watching wait")
        await on.press("enter")
        assert "KF-017 was decided meanwhile: closed, by analyst 3." in on.text
        assert len(on.asked("signals")) == 4  # twice the cut, twice the cut before


async def test_a_review_is_moved_on_from_the_page_of_the_implant_and_the_list_knows():
    async with driven() as on:
        await on.press("5", "down", "enter", "s")
        assert "KT-017: new. Where does its review go, and why?" in on.text
        await on.type("watching wait")
        await on.press("enter")
        assert on.asked("decide") == [("KT-017", "watching", "wait", "every", 0)]
        assert "Kept: KT-017 is watching (decision 1)." in on.text
        await on.press("escape")
        assert "watching" in on.at_cursor()


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("", [0, 1, 2]),
        ("ratio>1", [0]),
        ("ratio>=1", [0, 1]),
        ("ratio=1..2", [1]),
        ("revised=..5", [1, 2]),
        ("ratio!=1", [0, 2]),  # a figure that is not there is not 1
        ("state=under,watch", [0, 2]),
        ("state!=NEW revised<=5", [2]),
    ],
)
def test_rows_are_kept_by_their_figures_and_words(text, kept):
    chosen = row_words.parse(text, WORDS)
    assert [n for n, row in enumerate(VALUES) if chosen.keeps(row)] == kept
    assert str(chosen) == text


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("ratio", "is no condition on rows"),
        ("ratoi=1", "There is no column ratoi. Nearest: ratio"),
        ("ratio>", "needs one value"),
        ("ratio>1,2", "needs one value"),
        ("ratio>x", "x is no number for ratio"),
        ("ratio=nan", "begins above its end"),
        ("ratio=2..1", "begins above its end"),
        ("ratio>1..2", "is no number for ratio"),
        ("state>new", "state is a word"),
    ],
)
def test_a_condition_that_cannot_be_read_is_refused(text, told):
    with pytest.raises(FilterError, match=told):
        row_words.parse(text, WORDS)
