"""Each place at 80×24, letter by letter, on a desk of plain formulas."""

import pytest

from regdash import cohort
from regdash.dashboard.app import Dashboard
from regdash.dashboard.asked import Asked
from tests.dashboard.driving import Driver
from tests.dashboard.fake_desk import FakeDesk

PLACES = {
    "register": "1",
    "risk": "",
    "risk_read_at_12_years": "[[[",
    "risk_of_many_groups": "ghospital\r",
    "mortality": "m",
    "reasons": "3",
    "reasons_of_the_next_group": "3>",
    "difference": "3d",
    "done_by_year": "1p",
    "revisions_of_a_year": "3p",
    "done_at_revisions": "3p>",
    "revision_rows": "3p\r",
    "compare": "4",
    "compare_many_groups": "4gage\r",
    "curve": "4c]",
    "adjust": "4a",
    "implants": "5",
    "implants_by_review": "5s",
    "implants_found": "5f",
    "history": "5h",
    "implant": "5\r",
    "implant_windows": "5\r>",
    "implant_excess": "5\r>>",
    "implant_surgeons": "5\r>>>>>>",
    "joints": "\r\r",
    "joint": "\r\r\r",
    "cuts": "8",
    "held_of_a_cut": "8>>",
    "changes": "8vd",
    "units": "6",
    "unit": "6\r",
    "quality": "7",
    "found_rows": "7\r",
    "linked_share": "7>>>>",
    "missing_fields": "7<<",
    "sql": "9",
    "rows_of_a_statement": "9/from fol>\r",
    "filter": "/class=",
    "explain": "x",
    "keys": "?",
}

KEYS = {
    "\r": "enter",
    "[": "left_square_bracket",
    ">": "tab",
    "<": "shift+tab",
    "v": "down",
    "/": "slash",
    "?": "question_mark",
    "=": "equals_sign",
    " ": "space",
}


@pytest.mark.parametrize("place", PLACES)
def test_a_place_looks_as_it_did(snap_compare, place):
    desk = FakeDesk()
    app = Dashboard(lambda cut: desk, None, Asked(cohort.parse("")))

    async def go(pilot) -> None:
        on = Driver(app, pilot, desk)
        await on.until(lambda: app.desk is not None)
        await on.settled()
        for sign in PLACES[place]:
            await on.press(KEYS.get(sign, sign))

    assert snap_compare(app, terminal_size=(80, 24), run_before=go)
