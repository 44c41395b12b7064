"""A reference says what is expected of a joint, and where it does not know."""

import numpy as np
import pytest
from lifelines import NelsonAalenFitter
from numpy.testing import assert_allclose

from regdash.errors import CountError
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.reference_hazard import hazard_of, published_rates, rates_of
from tests.stats.cases import rows_of
from tests.stats.cox_cases import column, counts_of_rows

ONE = np.zeros(1, dtype=np.int64)


@pytest.mark.parametrize("sex", [0, 1])
def test_the_hazard_of_everybody_is_nelsons_and_aalens(sex: int) -> None:
    """Against lifelines' NelsonAalenFitter without its smoothing of ties, which is events over joints at risk."""
    rows = rows_of("data_lung")
    day, event, stratum = column(rows, "time"), column(rows, "status") - 1, column(rows, "sex") - 1
    hazard = hazard_of(counts_of_rows(day, event, stratum=stratum))
    of = stratum == sex
    other = NelsonAalenFitter(nelson_aalen_smoothing=False).fit(day[of], event[of])
    days = np.arange(0, int(day[of].max()) + 1)
    found = hazard.expected(np.full(len(days), sex), days)
    assert_allclose(found, other.cumulative_hazard_at_times(days), rtol=1e-12)


def test_a_hazard_stays_where_it_was_after_its_last_day_and_is_unknown_there() -> None:
    hazard = hazard_of(PatternCounts(2, [0, 0, 1], [3, 9, 4], [1, 0, 0], stratum=[7, 9]))
    strata, days = np.array([7, 7, 7, 9, 8]), np.array([9, 12, 2, 4, 4])
    assert hazard.expected(strata, days).tolist() == [0.5, 0.5, 0, 0, 0]
    assert hazard.last_day(strata).tolist() == [9, 9, 9, 4, -1]


def test_a_published_table_of_rates_adds_up_by_window() -> None:
    """2 per 100 years for the first 365 days, 1 afterwards: 365.25 days more at 1 are 0.01 events."""
    table = published_rates([0], [365], np.array([[2.0, 1.0]]))
    found = table.expected(np.zeros(4, dtype=np.int64), np.array([0, 365, 366, 1461]))
    assert_allclose(found, np.array([0, 365 * 2, 365 * 2 + 1, 365 * 2 + 1096]) / 36525, rtol=1e-14)
    assert table.last_day(ONE) > 10**9


def test_rates_are_events_over_follow_up_by_stratum_and_window() -> None:
    counts = PatternCounts(2, [0, 0, 1, 1], [100, 300, 50, 90], [1, 1, 0, 1], [2, 1, 4, 1], stratum=[0, 1])
    found = rates_of(counts, [90])
    days = [[3 * 90, 2 * 10 + 210], [4 * 50 + 90, 0]]
    assert_allclose(found.per_100_years[0] / 36525, [0, 3 / days[0][1]], rtol=1e-14)
    assert_allclose(found.per_100_years[1] / 36525, [1 / days[1][0], 0], rtol=1e-14)
    assert found.last_day(np.array([1])).tolist() == [90], "nobody of stratum 1 is followed in the second window"


def test_tables_that_do_not_fit_are_refused() -> None:
    with pytest.raises(CountError, match="as many rates"):
        published_rates([0, 1], [90], np.ones((2, 3)))
    with pytest.raises(CountError, match="rising strata"):
        published_rates([1, 0], [], np.ones((2, 1)))
    with pytest.raises(CountError, match="below 0"):
        published_rates([0], [], np.array([[-1.0]]))
    with pytest.raises(CountError, match="rise"):
        rates_of(PatternCounts(1, [0], [3], [1]), [0])
