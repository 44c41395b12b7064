"""Mortality from submitted files: what was sent of deaths and losses, through receipt and freeze, to the figure."""

from datetime import date
from pathlib import Path

import pytest

from regdash.intake.receive import receive
from regdash.reports.desk import Desk
from regdash.store.freeze import freeze
from tests.intake.small_register import SmallRegister, primary, revision
from tests.reports.desks import EVERYTHING, SHOW_ALL

THROUGH = date(2010, 12, 31)


def test_deaths_and_losses_that_were_sent_end_follow_up_as_they_should(tmp_path: Path) -> None:
    """
    Worked out by hand: seven operations, the first of both sides, and deaths known through 2010-11-30.

    Patient 1 dies on day 60 after a revision; 2 on the day of the operation; 3 is lost on day 20 and dies later; 4
    dies on day 40, after the own hospital's feed ended; 5 dies after deaths are known, and is followed for 45 days; 6
    and 7 live.
    """
    register = SmallRegister(tmp_path / "in")
    register.catalogue()
    register.units()
    own = [primary("H001-0000001", 1, "2010-01-01"), primary("H001-0000002", 1, "2010-01-01", side="right")]
    own += [primary(f"H001-000000{n + 1}", n, "2010-01-01") for n in (2, 3, 6, 7)]
    own += [primary("H001-0000006", 5, "2010-10-16"), revision("H001-0000101", 1, "2010-01-15")]
    register.operations("2011-01-31", own, complete="2010-12-31")
    register.operations(
        "2011-01-31", [primary("H002-0000001", 4, "2010-01-01")], hospital="H002", complete="2010-01-31"
    )
    sent = {1: "2010-03-02", 2: "2010-01-01", 3: "2010-02-15", 4: "2010-02-10", 5: "2010-12-05"}
    register.deaths("2011-01-31", sent, complete="2010-11-30")
    register.losses("2011-01-31", {3: "2010-01-21"})
    receive(tmp_path / "store", [tmp_path / "in"])
    freeze(tmp_path / "store", THROUGH)
    desk = Desk(tmp_path / "store", policy=SHOW_ALL)
    report = desk.mortality(EVERYTHING, (), (0, 20, 40, 45, 60, 333))
    desk.close()
    assert (report.head.operations, report.head.joints, report.head.patients) == (7, 8, 7)
    assert (report.head.deaths, report.head.deaths_known_through) == (3, "2010-11-30")
    assert [(row.days, row.at_risk, row.deaths) for row in report.rows] == [
        *((0, 7, 1), (20, 6, 1), (40, 5, 2), (45, 4, 2), (60, 3, 3), (333, 2, 3))
    ]
    assert report.rows[-1].estimate == pytest.approx(1 - 6 / 7 * 4 / 5 * 2 / 3, abs=1e-15)
