"""One implant against all others: R's coxph with strata, and slow counts written differently."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from regdash.errors import CountError
from regdash.stats.own_and_others import OwnAndOthers
from tests.stats.one_among_all import drawn, flchain, printed


def test_ratios_are_those_of_r() -> None:
    """Whole, by sex, and with hospitals held alike too: coxph(Surv(futime, death) ~ own + strata(...)) to 1e-9."""
    them, woman, hospital = flchain()
    by_sex = them.ratios_by(woman.astype(int), ["M", "F"])
    found = {"": them.ratio(), "M": by_sex[0], "F": by_sex[1], "hospital": them.within(hospital).ratio()}
    for row in [*printed("explained_flchain", "whole"), *printed("explained_flchain", "sex")] + printed(
        "explained_flchain", "alike"
    ):
        one = found[row["level"]]
        assert one is not None
        assert one.events == int(row["events"])
        ours = [one.ratio.ratio, one.ratio.lower, one.ratio.upper]
        assert_allclose(ours, [float(row[name]) for name in ("figure", "lower", "upper")], rtol=1e-9)


@pytest.mark.parametrize("many_strata", [False, True])
def test_parts_against_all_others_are_as_if_each_were_alone_with_them(
    many_strata: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if many_strata:
        monkeypatch.setattr("regdash.stats.own_and_others._DENSE", 1)
    for seed in range(4):
        them, part = drawn(900, 3, 4, 60, seed)
        together = them.ratios_by(part, "abc", alike=False)
        for number, one in enumerate(together):
            alone = them.only(~them.own | (part == number)).ratio()
            assert one is not None
            assert alone is not None
            assert one.ratio.note == alone.ratio.note
            if alone.ratio.ratio is not None:
                assert_allclose(one.ratio.ratio, alone.ratio.ratio, rtol=1e-9)


def test_strata_of_one_side_say_nothing() -> None:
    them = OwnAndOthers(*map(np.array, ([True, True, False], [0, 1, 1], [5, 5, 9], [1, 0, 1])))
    assert them.shared.tolist() == [False, True, True]
    assert OwnAndOthers(them.own, np.arange(3), them.day, them.cause).ratio() is None


def test_sides_of_different_lengths_are_refused() -> None:
    with pytest.raises(CountError, match="a side, a stratum, a day and a cause"):
        OwnAndOthers(np.array([True]), np.array([0, 0]), np.array([1]), np.array([0]))
