"""Each place on a light background and on a larger screen; the dark ones at 80×24 are in `test_pictures`."""

import pytest
from pytest_textual_snapshot import SVGImageExtension
from syrupy.assertion import SnapshotAssertion

from regdash import cohort
from regdash.dashboard.app import Dashboard
from regdash.dashboard.asked import Asked
from regdash.dashboard.terminal import DARK, LIGHT, Look
from tests.dashboard.driving import Driver
from tests.dashboard.fake_desk import FakeDesk

PLACES = {
    "register": "1",
    "risk": "2",
    "reasons": "3",
    "compare": "4",
    "implants": "5",
    "implant": "5 enter",
    "units": "6",
    "unit": "6 enter",
    "quality": "7",
    "cuts": "8",
    "sql": "9",
}
SMALL, LARGE = (80, 24), (120, 40)


@pytest.mark.parametrize(
    ("theme", "size"),
    [(LIGHT, SMALL), (DARK, LARGE), (LIGHT, LARGE)],
    ids=["light_80x24", "dark_120x40", "light_120x40"],
)
async def test_places_look_as_they_did(snapshot: SnapshotAssertion, theme: str, size: tuple[int, int]):
    desk = FakeDesk()
    app = Dashboard(lambda cut: desk, None, Asked(cohort.parse("")), Look(theme=theme))
    pictures = {}
    async with app.run_test(size=size) as pilot:  # once for all places
        on = Driver(app, pilot, desk)
        await on.until(lambda: app.desk is not None)
        await on.settled()
        for place, keys in PLACES.items():
            await on.press(*keys.split())
            pictures[place] = app.export_screenshot(simplify=True)
            if " " in keys:
                await on.press("escape")
    kept = snapshot.use_extension(SVGImageExtension)
    assert [place for place, picture in pictures.items() if picture != kept(name=place)] == []
