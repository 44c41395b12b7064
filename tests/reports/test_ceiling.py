"""Verdicts on risks: those that limits worked out by hand give, and none where the risk itself is withheld."""

from math import exp, log, sqrt
from pathlib import Path

import pytest

from regdash import grouping
from regdash.errors import FilterError
from regdash.reports.desk import Desk
from regdash.reports.policy import Policy
from tests.cuts import Row, joint, random_joints
from tests.reports.desks import EVERYTHING, SHOW_ALL, desk_of

BY_CLASS = grouping.parse("class")
Z = 1.959963984540054


def some(revised: int, joints: int, **more: str) -> list[Row]:
    """Joints of which some are revised on the first day; the rest are seen for years."""
    return [joint(days=1, ended="revised", reason="infection", **more)] * revised + [
        joint(days=4000, **more) for _ in range(joints - revised)
    ]


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    """40 of 1,000 partial knees are revised and 60 of 2,000 total ones; nobody leaves before."""
    return desk_of(tmp_path_factory.mktemp("store"), some(40, 1000, class_="partial") + some(60, 2000))


@pytest.mark.parametrize(
    ("ceiling", "verdict", "why"),
    [
        (0.055, "met", "the upper limit is below the ceiling"),
        (0.045, "cannot say yet", "the limits include the ceiling"),  # though the estimate is below it
        (0.029, "not met", "the lower limit is above the ceiling"),
    ],
)
def test_limits_on_the_log_log_scale_judge_a_risk_by_hand(two: Desk, ceiling: float, verdict: str, why: str) -> None:
    """40 of 1,000: S = 0.96, se 0.0061968, limits 1 - S ** exp(±z se / (S |log S|)) = 0.0295 and 0.0541."""
    stretch = exp(Z * sqrt(0.04 * 0.96 / 1000) / (0.96 * -log(0.96)))
    lower, upper = 1 - 0.96 ** (1 / stretch), 1 - 0.96**stretch
    assert (round(lower, 4), round(upper, 4)) == (0.0295, 0.0541)
    partial = two.risk(EVERYTHING, BY_CLASS, [5], ceiling=ceiling).ceilings[1]
    assert (partial.group, partial.verdict, partial.why) == ("partial", verdict, why)


@pytest.mark.parametrize(("margin", "verdict"), [(1.0, "met"), (0.8, "cannot say yet"), (0.0, "cannot say yet")])
def test_a_relative_margin_by_hand(two: Desk, margin: float, verdict: str) -> None:
    """Excess F - (1 + m) B with variance se² + (1 + m)² se_B²: derived for this program, no published source."""
    (row,) = two.risk(EVERYTHING, BY_CLASS, [5], margin=margin).margins
    f = 1 + margin
    reach = Z * sqrt(0.04 * 0.96 / 1000 + f**2 * 0.03 * 0.97 / 2000)
    expected = (0.04 - f * 0.03, 0.04 - f * 0.03 - reach, 0.04 - f * 0.03 + reach)
    assert (row.excess, row.lower, row.upper) == tuple(map(pytest.approx, expected))
    assert (row.group, row.reference, row.verdict) == ("partial", "total", verdict)
    assert (verdict == "met") == (expected[2] < 0)


def test_a_margin_that_is_surely_exceeded_is_not_met(tmp_path: Path) -> None:
    desk = desk_of(tmp_path, some(80, 1000, class_="partial") + some(60, 2000))
    (row,) = desk.risk(EVERYTHING, BY_CLASS, [5], margin=0.2).margins
    assert (row.verdict, row.why) == ("not met", "the lower limit is above no excess")


def test_without_a_margin_the_excess_is_the_difference(two: Desk) -> None:
    report = two.risk(EVERYTHING, BY_CLASS, [1, 5], difference=True, margin=0.0)
    for difference, margin in zip(report.differences, report.margins, strict=True):
        assert (margin.excess, margin.lower, margin.upper) == (
            difference.difference,
            difference.lower,
            difference.upper,
        )


def test_too_few_joints_at_risk_decide_nothing(two: Desk) -> None:
    asked = {"ceiling": 0.5, "margin": 5.0, "at_least": 961}
    report = two.risk(EVERYTHING, BY_CLASS, [5], **asked)
    assert [row.verdict for row in report.ceilings] == ["met", "cannot say yet"]
    assert report.ceilings[1].why == "960 joints at risk, fewer than the 961 asked for"
    assert report.margins[0].verdict == "cannot say yet"
    assert report.margins[0].excess is not None
    report = two.risk(EVERYTHING, BY_CLASS, [5], **asked | {"at_least": 960})
    assert {row.verdict for row in (*report.ceilings, *report.margins)} == {"met"}


def test_a_risk_that_is_withheld_is_not_judged_whatever_is_asked(tmp_path: Path) -> None:
    """A verdict would tell of the risk."""
    rows = some(1, 39, class_="partial") + some(3, 300)
    report = desk_of(tmp_path, rows, Policy()).risk(EVERYTHING, BY_CLASS, [5], ceiling=0.9, margin=9, at_least=1)
    total, partial = report.ceilings
    assert (partial.verdict, partial.why) == ("cannot say yet", "withheld: fewer than 40 joints at risk")
    assert total.verdict == "met"
    (margin,) = report.margins
    assert (margin.verdict, margin.excess, margin.why) == (
        "cannot say yet",
        None,
        "withheld: partial: fewer than 40 joints at risk",
    )
    (margin,) = (
        desk_of(tmp_path / "turned", rows, Policy())
        .risk(EVERYTHING, BY_CLASS, [5], margin=9, reference="partial", at_least=1)
        .margins
    )
    assert (margin.group, margin.excess, margin.why) == (
        "total",
        None,
        "withheld: partial: fewer than 40 joints at risk",
    )


@pytest.mark.parametrize("more", [{}, {"view": "patient"}, {"given_unrevised": 2.0}, {"standardise": "sex"}])
def test_verdicts_agree_with_the_limits_that_stand_beside_them(
    tmp_path_factory: pytest.TempPathFactory, more: dict[str, object]
) -> None:
    desk = desk_of(tmp_path_factory.mktemp("store"), random_joints(2500, seed=8), SHOW_ALL)
    more |= {"standardise": grouping.parse("sex")} if "standardise" in more else {}
    report = desk.risk(EVERYTHING, grouping.parse("asa"), [5, 10], ceiling=0.06, at_least=1, **more)  # type: ignore[arg-type]
    verdicts = []
    for row, judged in zip(report.rows, report.ceilings, strict=True):
        assert (row.group, row.years) == (judged.group, judged.years)
        assert row.lower is not None
        assert row.upper is not None
        verdicts.append("met" if row.upper < 0.06 else "not met" if row.lower > 0.06 else "cannot say yet")
    assert [judged.verdict for judged in report.ceilings] == verdicts
    assert len(set(verdicts)) > 1


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"ceiling": 1.2}, "A ceiling for a risk lies between 0 and 100 %, and 120 % does not."),
        ({"ceiling": 0.0}, "and 0 % does not."),
        ({"ceiling": float("nan")}, "and nan % does not."),
        ({"margin": -0.1}, "A margin on the risk of the reference is 0 % or more, and -10 % is not."),
        ({"ceiling": 0.05, "at_least": 0}, "A verdict needs joints at risk: ask for 1 or more, not 0."),
        ({"margin": 0.2, "by": ()}, "A margin is on another group's risk, and there is one only."),
        ({"margin": 0.2, "reference": "x"}, "There is no group x to compare with."),
    ],
)
def test_a_bar_that_is_none_is_refused(two: Desk, asked: dict[str, object], said: str) -> None:
    with pytest.raises(FilterError, match=said.replace("(", "[(]")):
        two.risk(EVERYTHING, **({"by": BY_CLASS, "years": [5]} | asked))  # type: ignore[arg-type]


def test_no_ceiling_comes_with_the_program(two: Desk) -> None:
    report = two.risk(EVERYTHING, BY_CLASS, [5])
    assert (report.ceilings, report.margins, report.at_least) == ((), (), None)
    assert "eiling" not in report.head.method
