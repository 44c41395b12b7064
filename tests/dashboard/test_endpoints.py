"""The key that chooses what counts as a revision, in every place whose figures depend on it."""

from tests.dashboard.driving import driven


async def test_e_chooses_the_endpoint_and_the_figures_name_it():
    async with driven() as on:
        assert "endpoint any revision" in on.text
        await on.press("e")
        assert "endpoint: the event" in on.text
        assert "a first revision for anything but infection" in on.text
        await on.type("maj")
        await on.press("tab", "enter")
        assert on.desk.endpoints[-1] == ("risk", "major")
        assert "endpoint major revision" in on.text


async def test_an_endpoint_is_marked_in_the_list_or_typed_by_its_printed_name():
    async with driven() as on:
        await on.press("e")
        await on.type("wi")
        await on.press("down", "down", "enter")
        assert on.desk.endpoints[-1] == ("risk", "without-later-patella")
        await on.press("e")
        await on.type("removal of the tibial component")
        await on.press("enter")
        assert on.desk.endpoints[-1] == ("risk", "removed:tibial")
        await on.press("e", "enter")  # nothing typed: any revision
        assert on.desk.endpoints[-1] == ("risk", "any-revision")


async def test_a_wrong_endpoint_names_the_nearest_and_changes_nothing():
    async with driven() as on:
        await on.press("e")
        await on.type("asceptic")
        await on.press("enter")
        assert "There is no endpoint asceptic. Nearest: aseptic" in on.text
        await on.press("escape")
        assert on.desk.endpoints == [("risk", "any-revision")]


async def test_every_place_that_follows_joints_asks_for_the_same_endpoint():
    async with driven() as on:
        await on.press("e")
        await on.type("aseptic")
        await on.press("enter", "3")
        assert on.desk.endpoints[-1] == ("reasons", "aseptic")
        assert on.lines[1].endswith("patient view · aseptic ")
        await on.press("d")
        assert on.desk.endpoints[-1] == ("gap", "aseptic")
        assert "implant view · aseptic" in on.lines[1]
        await on.press("escape", "4")
        assert on.desk.endpoints[-1] == ("compare", "aseptic")
        assert on.lines[1].endswith("age,sex · aseptic ")


async def test_undo_takes_an_endpoint_back():
    async with driven() as on:
        await on.press("e")
        await on.type("re-revision")
        await on.press("enter")
        assert "endpoint re-revision" in on.text
        await on.press("u")
        assert "endpoint any revision" in on.text
        await on.press("U")
        assert "endpoint re-revision" in on.text


async def test_the_command_names_the_endpoint_unless_it_is_any_revision():
    async with driven() as on:
        for place, command in (("2", "risk"), ("3", "reasons"), ("4", "compare")):
            await on.press(place)
            assert "--endpoint" not in on.app.place.command()
            await on.press("e")
            await on.type("major")
            await on.press("enter")
            assert on.app.place.command().startswith(f"regdash {command} ")
            assert on.app.place.command().endswith(" --endpoint major")
            await on.press("u")


async def test_joints_behind_a_reason_of_another_endpoint_are_called_by_their_first_revision():
    async with driven() as on:
        await on.press("3", "enter")
        assert "infection" in on.lines[0]
        assert "at first revision" not in on.lines[0]
        await on.press("escape", "e")
        await on.type("major")
        await on.press("enter", "enter")
        assert "infection at first revision" in on.lines[0]


async def test_a_place_without_endpoints_does_not_offer_the_key():
    async with driven() as on:
        await on.press("5", "e")
        assert "endpoint: the event" not in on.text
        assert not any(binding.action == "endpoint" for binding in on.app.place.active_keys())
