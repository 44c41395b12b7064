"""Everything on one implant: the page, the same figures for programs, and one part of it alone."""

from pathlib import Path

import pytest

from regdash.cli.implant import SECTIONS
from regdash.output.explained_sheets import SECTIONS as WRITTEN
from tests.cli.asking import one_line, regdash, words_in

# Fields that scripts rely on, written out on purpose.
EXCESS = words_in("reason revisions expected excess lower upper ratio ratio_lower ratio_upper others_revisions")
USERS = words_in(
    "unit user joints revisions expected others_joints others_revisions others_expected ratio_without lower upper fall"
)
PARTS = words_in(
    "field group words joints implant_years revisions per_100_implant_years lower upper "
    "others_per_100_implant_years hazard_ratio ratio_lower ratio_upper"
)


@pytest.fixture(scope="module")
def page(store: Path) -> dict:  # type: ignore[type-arg]
    return regdash("implant", "KT-001", "class=total", "--json", store=store).json  # type: ignore[no-any-return]


def test_the_command_offers_every_section() -> None:
    assert tuple(WRITTEN) == SECTIONS


def test_json_has_the_figures_and_their_explanation(page: dict) -> None:  # type: ignore[type-arg]
    assert page["rows"][0]["code"] == "KT-001"
    assert {"risk", "reasons", "sizes", "hospitals", "surgeons"} <= page.keys()
    for name, fields in {"excess": EXCESS, "hospitals": USERS, "subgroups": PARTS, "windows": PARTS}.items():
        rows = page[f"explained_{name}"]
        assert rows
        assert all([key for key in row if key != "withheld"] == fields for row in rows)
    assert page["explanation"]["adjust"] == "age,sex"
    assert "cautions" not in page["explanation"]  # one list speaks of both
    told = page["cautions"]
    assert len(set(told)) == len(told)
    for said in ("shows no cause", "Subgroups are many and small", "A rate averages over follow-up", "Time since impl"):
        assert sum(said in one for one in told) == 1
    *parts, whole = page["explained_excess"]
    assert sum(row["excess"] for row in parts) == pytest.approx(whole["excess"], abs=1e-9)


@pytest.mark.parametrize("section", ["excess", "hospitals"])
def test_a_section_alone_is_the_same_figures_as_csv(store: Path, page: dict, section: str) -> None:  # type: ignore[type-arg]
    rows = regdash("implant", "KT-001", "class=total", "--section", section, "--csv", store=store).csv
    told = page[f"explained_{section}"]
    assert len(rows) == len(told)
    for row, as_json in zip(rows, told, strict=True):
        for key, value in as_json.items():
            assert row[key] == ("" if value is None else repr(value) if isinstance(value, float) else str(value))


def test_the_page_of_a_construct_has_every_section_and_the_finding(store: Path) -> None:
    said = regdash("implant", "kf-001/KT-001", "class=total", "--adjust", "none", store=store)
    assert (said.code, said.stderr) == (0, "")
    for section in WRITTEN.values():
        assert section.title in said.stdout
    flat = " ".join(said.stdout.split())
    assert "Explanation: KF-001/KT-001 beside all others of the class total" in flat
    assert "are exchangeable the largest fall is" in flat
    assert "Cox (1972), without strata" in flat
    assert all(len(line) <= 79 for line in said.stdout.splitlines())


def test_an_unknown_construct_is_refused_with_the_nearest(store: Path) -> None:
    said = regdash("implant", "KF-001/KT-099", store=store)
    assert said.code == 1
    assert "There is no construct KF-001/KT-099" in one_line(said)
    assert "Nearest: KF-001/KT-001" in said.stderr


def test_each_caution_is_said_once_for_figures_and_explanation(store: Path) -> None:
    said = regdash("implant", "KT-001", "class=total", store=store).stdout
    flat = " ".join(said.split())
    for once in ("not chosen by chance", "shows no cause", "advice for one patient", "hospitals report late"):
        assert flat.count(once) == 1, once
    assert flat.count("held back until") <= 1
    cautions = flat[flat.index(" - A signal starts") :].split(" - ")
    assert len(cautions) == len(set(cautions))
    assert cautions[-1] == "Nothing here is advice for one patient."


def test_a_section_alone_has_its_own_cautions(store: Path) -> None:
    windows, subgroups = (
        regdash("implant", "KT-001", "class=total", "--section", part, store=store).stdout
        for part in ("windows", "subgroups")
    )
    for page, many in ((windows, False), (subgroups, True)):
        assert ("Subgroups are many" in page) is many
        assert "A signal starts a review" in page
        assert "Faults nearby" not in page


def test_a_section_alone_has_all_the_rows_of_which_the_page_has_the_first(store: Path) -> None:
    rows = regdash("implant", "KT-001", "class=total", "--section", "nearby", "--csv", store=store).csv
    alone = regdash("implant", "KT-001", "class=total", "--section", "nearby", store=store).stdout
    page = regdash("implant", "KT-001", "class=total", store=store).stdout
    assert any(row["found"] == "0" for row in rows)
    assert f"of {len(rows)} (all of them: --section nearby)" in page
    assert "all of them" not in alone
