"""The desk: which cut it opens, and that a question under way can be ended from another thread."""

import threading
import time
from pathlib import Path

import pytest

from regdash.errors import Cancelled, StoreError
from regdash.reports import desk as desk_module
from regdash.reports.desk import Desk
from regdash.store.cuts import Cut
from tests.cuts import joint, make_cut
from tests.reports.desks import EVERYTHING, desk_of

# The optimiser cannot answer this from statistics: it must look at ten thousand million pairs.
ENDLESS = "select count(*) from range(100000) as a(i), range(100000) as b(j) where (i * j) % 7 = 3"
SOON = 5.0  # seconds; a cancelled query ends within milliseconds, the rest is for a busy machine


class Asking(threading.Thread):
    """A question asked from a thread of its own, and how it ended."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(daemon=True)
        self.desk = desk
        self.error: BaseException | None = None
        self.start()

    def run(self) -> None:
        try:
            self.desk.risk(EVERYTHING)
        except BaseException as error:  # noqa: BLE001, the test looks at it
            self.error = error


@pytest.fixture
def endless(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Desk, threading.Event]:
    """A desk whose risk never comes, and an event that is set once it is being asked."""
    begun = threading.Event()

    def never(cut: Cut, *_: object) -> None:
        begun.set()
        cut.rows(ENDLESS)

    monkeypatch.setattr(desk_module, "risk_report", never)
    return desk_of(tmp_path, [joint()]), begun


def test_cancel_ends_a_question_in_its_own_thread(endless: tuple[Desk, threading.Event]) -> None:
    desk, begun = endless
    asking = Asking(desk)
    assert begun.wait(SOON)
    time.sleep(0.05)  # let the query get under way; the other tests cancel before it does
    assert asking.is_alive()
    desk.cancel()
    asking.join(SOON)
    assert isinstance(asking.error, Cancelled)


def test_cancel_at_the_moment_a_question_begins_is_not_lost(endless: tuple[Desk, threading.Event]) -> None:
    desk, begun = endless
    for _ in range(20):
        begun.clear()
        asking = Asking(desk)
        assert begun.wait(SOON)
        desk.cancel()
        asking.join(SOON)
        assert isinstance(asking.error, Cancelled)


def test_close_ends_what_is_under_way(endless: tuple[Desk, threading.Event]) -> None:
    desk, begun = endless
    asking = Asking(desk)
    assert begun.wait(SOON)
    desk.close()
    asking.join(SOON)
    assert isinstance(asking.error, Cancelled)


def test_a_cancelled_desk_answers_the_next_question(endless: tuple[Desk, threading.Event]) -> None:
    desk, begun = endless
    asking = Asking(desk)
    assert begun.wait(SOON)
    desk.cancel()
    asking.join(SOON)
    assert desk.rates(EVERYTHING).head.joints == 1


def test_two_threads_ask_at_once_and_get_their_own_answers(tmp_path: Path) -> None:
    rows = [joint(sex="female")] * 30 + [joint(sex="male")] * 20
    desk = desk_of(tmp_path, rows)
    found: dict[str, set[int]] = {"female": set(), "male": set()}

    def ask(sex: str) -> None:
        for _ in range(20):
            found[sex].add(desk.risk(EVERYTHING.having(f"sex={sex}")).head.joints)

    threads = [threading.Thread(target=ask, args=(sex,)) for sex in found]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == {"female": {30}, "male": {20}}


def test_the_newest_cut_is_opened_and_any_by_name(tmp_path: Path) -> None:
    make_cut(tmp_path, [joint()], name="2023-12-31.1")
    make_cut(tmp_path, [joint()] * 2, name="2023-12-31.2")
    make_cut(tmp_path, [joint()] * 3, name="2023-12-31.10")
    assert Desk(tmp_path).manifest.joints == 3
    assert Desk(tmp_path, "2023-12-31.2").risk(EVERYTHING).head.joints == 2
    assert [manifest.cut for manifest in Desk(tmp_path).cuts()] == ["2023-12-31.1", "2023-12-31.2", "2023-12-31.10"]
    with pytest.raises(StoreError, match="There is no data cut 2022-12-31"):
        Desk(tmp_path, "2022-12-31")
