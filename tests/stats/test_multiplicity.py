"""False discovery rates against the paper's own example."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.stats import false_discovery_control

from regdash.errors import CountError
from regdash.stats.multiplicity import benjamini_hochberg, benjamini_yekutieli

# Fifteen tests after myocardial infarction, Benjamini & Hochberg (1995), section 4.
PAPER = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528]
PAPER += [0.7590, 1.0]
some_p = st.lists(st.one_of(st.floats(0, 1), st.sampled_from([0.0, 0.01, 0.05, 1.0])), max_size=20)


def test_the_papers_example_calls_out_four_of_fifteen() -> None:
    q = benjamini_hochberg(PAPER)
    assert np.sum(q <= 0.05) == 4
    expected = [0.0015, 0.003, 0.0095, 0.035625, 0.0603, 0.063857142857, 0.063857142857, 0.0645, 0.0765, 0.486]
    expected += [0.581181818182, 0.714875, 0.753230769231, 0.813214285714, 1]
    assert_allclose(q, expected, atol=6e-13)
    harsh = benjamini_yekutieli(PAPER)
    assert_allclose(harsh[:4], [0.00497734348984, 0.00995468697969, 0.03152317543568, 0.11821190788378], atol=6e-14)


@given(some_p)
def test_q_values_are_scipys(p: list[float]) -> None:
    if p:
        assert_allclose(benjamini_hochberg(p), false_discovery_control(p, method="bh"), rtol=1e-12)
        assert_allclose(benjamini_yekutieli(p), false_discovery_control(p, method="by"), rtol=1e-12)
    else:
        assert len(benjamini_hochberg(p)) == len(benjamini_yekutieli(p)) == 0


@given(some_p.filter(bool), st.randoms(), st.floats(0.001, 0.5))
def test_order_does_not_matter_and_what_is_called_out_is_the_step_up(
    p: list[float], random: object, share: float
) -> None:
    q = benjamini_hochberg(p)
    mixed = list(range(len(p)))
    random.shuffle(mixed)  # type: ignore[attr-defined]
    assert benjamini_hochberg([p[place] for place in mixed]).tolist() == q[mixed].tolist()
    ranked = sorted(p)
    steps = [one for rank, one in enumerate(ranked, start=1) if one * (len(p) / rank) <= share]
    assert {p[place] for place in np.flatnonzero(q <= share)} == {one for one in p if steps and one <= max(steps)}
    assert np.all((q >= np.array(p)) & (q <= 1))


def test_a_p_that_is_none_is_refused() -> None:
    for wrong in ([0.5, 1.01], [-0.1], [float("nan")], [None]):
        with pytest.raises(CountError):
            benjamini_hochberg(wrong)
        with pytest.raises(CountError):
            benjamini_yekutieli(wrong)
