"""risk --missing-revisions and --missing-from at the command line."""

from pathlib import Path

import pytest

from tests.cli.asking import one_line, regdash
from tests.cuts import make_cut
from tests.reports.test_ceiling import some


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """40 of 1,000 partial knees are revised in H001, and 60 of 2,000 total ones in H002."""
    rows = some(40, 1000, class_="partial") + some(60, 2000, hospital_id="H002")
    return make_cut(tmp_path_factory.mktemp("store"), rows)


def test_each_risk_has_beside_it_what_it_would_be(two):
    words = ("risk", "--by", "class", "--years", "5", "--missing-revisions", "20")
    plain = regdash("risk", "--by", "class", "--years", "5", "--json", store=two).json["rows"]
    rows = regdash(*words, "--json", store=two).json["rows"]
    for before, row in zip(plain, rows, strict=True):
        assert row["estimate"] == before["estimate"]
        assert row["missing_share"] == 0.2
        # Nobody of these leaves before all that are revised are: a fifth missing is a quarter more.
        assert row["estimate_if_missing"] == pytest.approx(1.25 * row["estimate"], rel=1e-9)
    assert "if 20 % are missing, %" in regdash(*words, store=two).stdout


def test_revisions_may_all_be_missing_from_the_hospitals_with_the_fewest(two):
    words = (
        "risk",
        "--by",
        "class",
        "--years",
        "5",
        "--missing-revisions",
        "20",
        "--missing-from",
        "worst:1",
        "--json",
    )
    answer = regdash(*words, store=two).json
    assert answer["missing_from"] == ["H002"]
    total, partial = answer["rows"]
    assert partial["estimate_if_missing"] == pytest.approx(partial["estimate"])
    assert total["estimate_if_missing"] == pytest.approx((60 + 25) / 60 * total["estimate"], rel=1e-9)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--missing-from", "worst:2"), "goes with --missing-revisions"),
        (("--missing-revisions", "5", "--missing-from", "best"), "worst:3"),
        (("--missing-revisions", "100"), "between 0 and 100"),
    ],
)
def test_what_says_no_share_or_no_place_is_wrong_usage(two, words, told):
    refused = regdash("risk", *words, store=two)
    assert refused.code == 2
    assert told in one_line(refused)
