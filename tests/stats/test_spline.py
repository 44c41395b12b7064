"""Restricted cubic splines against their definition, and knots against repeated values."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from regdash.errors import ModelError
from regdash.stats.cox import cox
from regdash.stats.cox_tests import likelihood_ratio_test
from regdash.stats.design import linear
from regdash.stats.spline import spline, spline_knots
from tests.stats.cases import rows_of
from tests.stats.cox_cases import column, counts_of_rows

KNOTS = (55.0, 64.0, 71.0, 78.0)


def test_columns_are_those_of_the_definition() -> None:
    # Harrell (2001), Regression Modeling Strategies, equation 2.25, written out for one value and one bend at a time.
    values = np.array([40, 55, 60.5, 64, 70, 78, 90])
    design = spline("age", values, KNOTS)
    assert design.names == ("age", "age, bend 1", "age, bend 2")
    assert set(design.terms) == {"age"}
    t = KNOTS
    for x, row in zip(values, design.matrix, strict=True):
        assert row[0] == x
        for j in range(2):
            bend = max(x - t[j], 0) ** 3
            bend -= max(x - t[2], 0) ** 3 * (t[3] - t[j]) / (t[3] - t[2])
            bend += max(x - t[3], 0) ** 3 * (t[2] - t[j]) / (t[3] - t[2])
            assert_allclose(row[j + 1], bend / (t[3] - t[0]) ** 2, rtol=1e-12, atol=1e-12)


def test_beyond_the_outer_knots_lines_are_straight_and_between_them_smooth() -> None:
    x = np.arange(30, 110, 0.01)
    for column_ in spline("age", x, KNOTS).matrix.T[1:]:
        curvature = np.diff(column_, 2) / 0.01**2
        assert_allclose(curvature[x[1:-1] < 54.9], 0, atol=1e-9)
        assert_allclose(curvature[x[1:-1] > 78.1], 0, atol=1e-6)
        assert np.abs(np.diff(curvature)).max() < 0.01  # the second derivative has no jumps


@pytest.mark.parametrize(
    ("knots", "shares"),
    [
        # Harrell (2001), table 2.3.
        (3, [0.1, 0.5, 0.9]),
        (4, [0.05, 0.35, 0.65, 0.95]),
        (5, [0.05, 0.275, 0.5, 0.725, 0.95]),
        (6, [0.05, 0.23, 0.41, 0.59, 0.77, 0.95]),
        (7, [0.025, 0.1833, 0.3417, 0.5, 0.6583, 0.8167, 0.975]),
    ],
)
def test_knots_of_counted_values_are_quantiles_of_the_joints(knots: int, shares: list[float]) -> None:
    random = np.random.default_rng(3)
    values, joints = random.permutation(np.arange(40, 90)), random.integers(0, 9, 50)
    expected = np.quantile(np.repeat(values, joints), shares)
    assert_allclose(spline_knots(values, joints, knots), expected, rtol=1e-12)


def test_a_spline_holds_the_straight_line_and_adds_its_bends() -> None:
    rows = rows_of("data_flchain")
    age = column(rows, "age")
    counts = counts_of_rows(column(rows, "futime"), column(rows, "death"))
    bent, straight = cox(counts, spline("age", age, spline_knots(age))), cox(counts, linear("age", age))
    assert bent.loglik > straight.loglik
    assert likelihood_ratio_test(bent, "age").df == 3
    # Knots in other units bend the same.
    months = cox(counts, spline("age", 12 * age, [12 * knot for knot in spline_knots(age)]))
    assert_allclose(months.loglik, bent.loglik, rtol=1e-12)
    assert_allclose(months.coef * 12, bent.coef, rtol=1e-8)


def test_knots_that_cannot_be_are_refused() -> None:
    with pytest.raises(ModelError, match="3 to 7 knots, not 2"):
        spline_knots(np.arange(9), knots=2)
    with pytest.raises(ModelError, match="too few values for 4 knots"):
        spline_knots(np.array([1, 2]), np.array([50, 50]))
    with pytest.raises(ModelError, match="needs joints"):
        spline_knots(np.array([1, 2]), np.array([0, 0]))
    with pytest.raises(ModelError, match="at least 3 knots that rise, not 50, 50, 60"):
        spline("age", np.arange(9), (50, 50, 60))


@pytest.mark.parametrize(
    ("data", "field", "event", "knots", "coef", "se", "loglik"),
    [
        (
            "veteran",
            "diagtime",
            1,
            4,
            [0.08940445933875, -2.23708144699864, 3.51883581903740],
            [0.1146930540002, 2.3552981793279, 3.6276889490153],
            -504.0133640901,
        ),
        (
            "lung",
            "wt.loss",
            2,
            5,
            [-0.06900896809481, 1.16636942885176, -2.28636470997049, 1.30578283667215],
            [0.03311483304994, 0.69693232785316, 1.62173201931637, 1.44027282158322],
            -677.3361753632,
        ),
    ],
)
def test_bends_that_are_uncertain_one_by_one_are_fitted_as_in_r(
    data: str, field: str, event: int, knots: int, coef: list[float], se: list[float], loglik: float
) -> None:
    """
    Coefficients of bends go together: large and uncertain each, where the curve is not. R 4.2.2, survival 3.5-3:

        k <- quantile(x, percentiles of the knots); b <- the columns of `spline` (Harrell 2001, equation 2.25)
        coxph(Surv(time, status == event) ~ b, control = coxph.control(eps = 1e-14, iter.max = 50))
    """
    rows = [row for row in rows_of(f"data_{data}") if row[field] != "NA"]
    values = np.array([float(row[field]) for row in rows])
    counts = counts_of_rows(column(rows, "time"), (column(rows, "status") == event).astype(np.int64))
    fit = cox(counts, spline(field, values, spline_knots(values, knots=knots)))
    assert_allclose(fit.coef, coef, rtol=1e-8)
    assert_allclose(fit.se, se, rtol=1e-8)
    assert fit.loglik == pytest.approx(loglik, rel=1e-11)
