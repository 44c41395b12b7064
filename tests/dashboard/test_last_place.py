"""What is kept of a session that was cut off, and how the next one offers it."""

import json
from pathlib import Path

from textual.events import Key

from regdash import cohort, grouping
from regdash.dashboard.app import Dashboard
from regdash.dashboard.asked import Asked
from regdash.dashboard.last_place import NAME, Keeper, LastPlace
from regdash.dashboard.terminal import Look
from tests.dashboard.driving import Driver
from tests.dashboard.fake_desk import FakeDesk

ASKED = Asked(cohort.parse("joint=knee class=partial age=50..59"), grouping.parse("sex,age:10"), 10.0, "patient", ())


def test_place_and_question_come_back_and_only_for_their_store(tmp_path: Path):
    keeper = Keeper(tmp_path / "store", tmp_path / "state")
    assert keeper.kept() is None
    keeper.keep(LastPlace("reasons", ASKED))
    assert keeper.kept() == LastPlace("reasons", ASKED)
    other = Keeper(tmp_path / "other", tmp_path / "state")
    assert other.kept() is None
    other.forget()
    assert keeper.kept() is not None
    keeper.forget()
    assert not list((tmp_path / "state").iterdir())


def test_only_its_owner_reads_it_and_it_holds_the_question_alone(tmp_path: Path):
    Keeper(tmp_path, tmp_path).keep(LastPlace("risk", ASKED))
    path = tmp_path / NAME
    assert path.stat().st_mode & 0o077 == 0
    said = json.loads(path.read_text())
    assert said.keys() == {"store", "place", "filter", "by", "years", "view", "adjust", "endpoint", "beside"}


def test_what_cannot_be_read_or_written_keeps_nobody_from_starting_or_leaving(tmp_path: Path):
    keeper = Keeper(tmp_path / "store", tmp_path / "state")
    (tmp_path / "state").write_text("a file where the folder should be")
    keeper.keep(LastPlace("risk", ASKED))
    assert keeper.kept() is None
    broken = Keeper(tmp_path, tmp_path)
    for text in ("", "[]", "{}", json.dumps({"store": str(tmp_path), "place": "risk", "filter": ["colour=red"]})):
        (tmp_path / NAME).write_text(text)
        assert broken.kept() is None


async def test_the_next_start_offers_it_once(tmp_path: Path):
    keeper = Keeper(tmp_path, tmp_path)
    # Any other key does what it does without the offer.
    for key, expected in (("enter", ("reasons", ASKED)), ("escape", ("risk", Asked())), ("4", ("compare", Asked()))):
        keeper.keep(LastPlace("reasons", ASKED))
        desk = FakeDesk()
        app = Dashboard(lambda cut, desk=desk: desk, None, Asked(), Look(), keeper)
        async with app.run_test(size=(80, 24)) as pilot:
            driver = Driver(app, pilot, desk)
            await driver.until(lambda driver=driver: "Enter goes back there" in driver.text)
            await driver.press(key)
            await driver.settled()
            place, asked = expected
            assert app.current_mode == place
            assert app.history.now.cohort.words == asked.looking_at(desk.first_joint).cohort.words
            assert keeper.kept() is None


async def test_keys_that_come_in_one_go_are_passed_on_in_their_order_and_take_nothing_away(tmp_path: Path):
    """As over a line that was stuck: all of them reach the app before the offer has seen the first."""
    keeper = Keeper(tmp_path, tmp_path)
    keeper.keep(LastPlace("reasons", ASKED))
    desk = FakeDesk()
    app = Dashboard(lambda cut: desk, None, Asked(), Look(), keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        driver = Driver(app, pilot, desk)
        await driver.until(lambda: "Enter goes back there" in driver.text)
        for key in ("5", "k", "escape", "escape"):
            app.post_message(Key(key, key if len(key) == 1 else None))
        await driver.settled()
        assert app.current_mode == "implants"
        assert "constructs" in driver.lines[1]


async def test_leaving_a_level_twice_in_one_go_leaves_it_once(tmp_path: Path):
    desk = FakeDesk()
    app = Dashboard(lambda cut: desk, None, Asked(), Look())
    async with app.run_test(size=(80, 24)) as pilot:
        driver = Driver(app, pilot, desk)
        await driver.until(lambda: app.desk is not None)
        await driver.press("2", "enter", "x")
        for _ in range(4):
            app.post_message(Key("escape", None))
        await driver.settled()
        assert len(app.screen_stack) >= 1
        await driver.press("3", "question_mark", "q", "q")
        assert "Quit?" in driver.text


async def test_a_lost_office_file_is_told_at_the_start_until_a_key_is_pressed(tmp_path: Path):
    desk = FakeDesk()
    desk.lost_office = "office.sqlite is missing beside office.heads: restore it from a backup."
    app = Dashboard(lambda cut: desk, None, Asked(), Look())
    async with app.run_test(size=(80, 24)) as pilot:
        driver = Driver(app, pilot, desk)
        await driver.until(lambda: "office.sqlite is missing" in driver.text)
        await driver.press("escape")
        assert "office.sqlite" not in driver.text
