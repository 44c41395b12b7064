"""The study of thresholds plants what it says, screens with what was known, and tells what it found."""

from datetime import date
from xml.etree import ElementTree

import numpy as np
import pytest
import thresholds
from threshold_study import RATIOS, Design, GeneratedThen, Planted, Studied, made_register, ratios_of, study
from threshold_study import threshold_sets as sets_of
from threshold_tables import Chance, Summary, chart, csv_lines, sets_table, shipped_table

from regdash.signals.known_then import NOT_THERE
from regdash.signals.settings import read_settings

SETS = sets_of()
SMALL = Design(12_000, (300, 1000), 1)


@pytest.fixture(scope="module")
def small() -> Studied:
    """Of this register the second implant has a ratio of 2.5."""
    number = next(n for n in range(5) if ratios_of(SMALL, n)[1] == 2.5)
    return study(SMALL, number, 3, SETS)


def test_the_first_set_is_the_one_that_is_shipped_and_all_differ() -> None:
    assert SETS[0].settings == read_settings()
    assert len({one.settings for one in SETS}) == len(SETS) == 9


@pytest.mark.parametrize("uses", [(100, 300), (100, 300, 1000, 100, 300, 1000), (3000, 10_000, 3000)])
def test_each_use_meets_each_ratio_equally_often(uses: tuple[int, ...]) -> None:
    design = Design(1000, uses, 5)
    met = [pair for number in range(5) for pair in zip(uses, ratios_of(design, number), strict=True)]
    assert {met.count((one, ratio)) for one in uses for ratio in RATIOS} <= {1, 2}
    assert all(met.count((one, ratio)) == uses.count(one) for one in uses for ratio in RATIOS)


def test_planted_implants_have_the_ratio_and_the_uses_they_should(small: Studied) -> None:
    for one in small.planted:
        assert one.true_ratio == pytest.approx(one.ratio, rel=0.04)
        assert one.joints == pytest.approx(one.uses, rel=0.25)
        assert 7 <= one.first_use < 8  # the years since the register's start


def test_a_lower_stated_ratio_calls_out_no_later(small: Studied) -> None:
    """The same data and quarters, so that the sets differ by their thresholds alone."""
    poor = small.planted[1]
    plain = {one.stated_ratio: n for n, one in enumerate(SETS) if (one.q, one.correction) == (0.05, SETS[0].correction)}
    years = [poor.signals[plain[stated]] for stated in (1.0, 1.25, 1.5)]
    assert years[0] is not None
    assert years == sorted(years, key=lambda year: np.inf if year is None else year)
    assert all((year is None) == (quarter is None) for year, quarter in zip(poor.signals, poor.quarters, strict=True))
    assert all(false <= signals for false, signals in zip(small.false, small.signals, strict=True))


def test_what_was_known_grows_into_what_is_true() -> None:
    register, _, _ = made_register(SMALL, 0, 5)
    known, (own,) = GeneratedThen(register), register.several.registers
    soon, late = known.on([date(2010, 6, 30), date(2021, 12, 31)])
    there = late != NOT_THERE
    assert np.count_nonzero(~there) < 0.03 * len(late)  # primaries written too late for the last submission
    told, true = (late[there] & 1) > 0, register.joints.revised[there]
    assert not (told & ~true).any()
    assert np.array_equal((late[there] >> 1)[told == true], own.days[there][told == true])
    assert ((late[there] >> 1)[true & ~told] >= own.days[there][true & ~told]).all()  # in follow-up for what is known
    assert 0.9 * true.sum() < told.sum()
    assert np.count_nonzero(soon != NOT_THERE) < np.count_nonzero(there)
    implanted = own.joints.primaries.day[: len(own.days)]
    assert implanted[soon != NOT_THERE].max() <= own.setting.days.number(date(2010, 3, 31))  # the last one complete


def studied() -> list[Studied]:
    """Made by hand: of two implants one is called out after 3 years, in the tenth quarter; the other never."""
    seen, unseen = (3.0,) * len(SETS), (None,) * len(SETS)

    def planted(uses: int, ratio: float, years: tuple[float | None, ...]) -> Planted:
        return Planted(uses, ratio, ratio, uses, 7.0, years, tuple(None if year is None else 10 for year in years))

    uses = (100, 300, 1000, 3000, 10_000)
    quiet = [planted(n, ratio, unseen) for n in uses for ratio in RATIOS]
    loud = [planted(n, ratio, seen if ratio == 2.5 else unseen) for n in uses for ratio in RATIOS]
    return [Studied(tuple(quiet), (0,) * 9, (0,) * 9), Studied(tuple(loud), (4,) * 9, (1,) * 9)]


def test_a_share_has_exact_limits() -> None:
    """0 of 20 and 19 of 20: Clopper & Pearson (1934), as R 4.2.2's binom.test prints them."""
    assert Chance(0, 20).limits == pytest.approx((0, 0.1684), abs=5e-5)
    assert Chance(19, 20).limits == pytest.approx((0.7513, 0.9987), abs=5e-5)
    assert str(Chance(19, 20)) == "95 (75 to 100)"


def test_a_median_counts_those_never_called_out() -> None:
    both = [one for each in studied() for one in each.planted if (one.uses, one.ratio) == (100, 2.5)]
    found = Summary.of(both, 0)
    assert [(one.seen, one.of) for one in found.within] == [(0, 2), (1, 2), (1, 2)]
    assert found.median_quarters is None
    assert Summary.of(both[1:], 0).median_quarters == 10


def test_tables_and_chart_tell_all_that_was_planted() -> None:
    made = studied()
    assert len(csv_lines(made, SETS)) == 1 + 9 * 5 * 5
    assert len({line.count(",") for line in csv_lines(made, SETS)}) == 1
    assert len(shipped_table(made)) == 2 + 5
    rows = sets_table(made, SETS)
    assert len(rows) == 2 + 9
    assert rows[2].startswith("| **1.25** | 0.05 | 2.0 | 12.5 |")  # the mean of 0 and 1 of 4
    assert len({row.count("|") for row in rows}) == len({row.count("|") for row in shipped_table(made)}) == 1
    picture = ElementTree.fromstring(chart(made, SETS))
    assert len(picture.findall("{*}path")) == 3 * 5 * (3 + 5) + 5
    assert "href" not in chart(made, SETS)


def test_a_page_keeps_what_stands_around_its_table() -> None:
    page = "a\n<!-- made: x -->\nold\n<!-- end: x -->\nb"
    assert thresholds.between_marks(page, "x", ["new", ""]) == "a\n<!-- made: x -->\nnew\n\n<!-- end: x -->\nb"
    with pytest.raises(ValueError, match="once each"):
        thresholds.between_marks(page, "y", ["new"])
