"""The ratio without each user, and how far it falls at most by chance."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from regdash.errors import CountError, ModelError
from regdash.stats.excess_by_cause import OthersHazard
from regdash.stats.largest_fall import falls, largest_fall
from regdash.stats.left_out import LeftOut, left_out_ratios
from regdash.stats.own_and_others import OwnAndOthers
from regdash.stats.risk_shares import ScreenedRatio
from tests.stats.one_among_all import drawn, flchain, printed


def named(users: int) -> list[str]:
    return [f"H{number:03}" for number in range(users)]


def test_the_ratio_without_each_hospital_is_that_of_r() -> None:
    """coxph(..., subset = hospital != h), to 1e-9."""
    them, _, hospital = flchain()
    left = left_out_ratios(them, hospital, named(7))
    for row in printed("explained_flchain", "without"):
        one = left.ratios[int(row["level"])]
        assert (one.joints, one.events) == (int(row["joints"]), int(row["events"]))
        ours = [one.ratio.ratio, one.ratio.lower, one.ratio.upper]
        assert_allclose(ours, [float(row[name]) for name in ("figure", "lower", "upper")], rtol=1e-9)


@pytest.mark.parametrize("block", [2**19, 1])
@pytest.mark.parametrize("shape", [(60, 4, 2, 6), (500, 8, 3, 40), (2_000, 12, 6, 800)])
def test_leaving_out_is_fitting_again_without(
    shape: tuple[int, int, int, int], block: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With many ties and with few, and users that hold all of a day's events or risk sets."""
    monkeypatch.setattr("regdash.stats.left_out._BLOCK", block)
    told = 0
    for seed in range(3):
        them, user = drawn(*shape, seed=seed)
        left = left_out_ratios(them, user, named(shape[1]))
        for number, one in enumerate(left.ratios):
            again = them.only(user != number).ratio()
            if again is None or again.ratio.ratio is None:
                assert one.ratio.ratio is None
                continue
            told += 1
            figures = [(each.ratio.ratio, each.ratio.lower, each.due, each.expected) for each in (one, again)]
            assert_allclose(figures[0], figures[1], rtol=1e-8)
    assert told >= 3


def test_nobody_to_leave_out_gives_nothing() -> None:
    them, user = drawn(60, 4, 2, 6, seed=1)
    assert left_out_ratios(them, np.full(len(user), -1), []).ratios == ()


def test_a_user_without_a_name_is_refused() -> None:
    them, user = drawn(60, 4, 2, 6, seed=1)
    with pytest.raises(CountError, match="a user that has a name"):
        left_out_ratios(them, user, named(2))


# ---- the largest fall ---------------------------------------------------------------------------


def asked(them: OwnAndOthers, user: np.ndarray, users: int) -> tuple[ScreenedRatio, LeftOut, np.ndarray, np.ndarray]:
    whole = them.ratio()
    assert whole is not None
    mine = np.flatnonzero(them.own & (user >= 0))
    due = OthersHazard(them).by_joint
    expected = np.bincount(user[mine], due[mine], users)
    rest = due[them.own & (user < 0)].sum()
    seen = np.bincount(user[mine], them.cause[mine] > 0, users).astype(np.int64)
    return whole, left_out_ratios(them, user, named(users)), seen, np.append(expected, rest)


def one_poor_user(seed: int) -> tuple[OwnAndOthers, np.ndarray]:
    """Twelve users; the fifth uses little else, and four times as many of the fifth's joints have the event."""
    random = np.random.default_rng(seed)
    joints = 6_000
    user = random.integers(0, 12, joints)
    own = random.random(joints) < np.where(user == 5, 0.5, 0.15)
    risk = np.where(user == 5, 0.24, 0.06)
    cause = (random.random(joints) < risk).astype(int)
    return OwnAndOthers(own, random.integers(0, 3, joints), random.integers(0, 3_000, joints), cause), user


def test_a_poor_user_is_named_and_lies_outside_the_range() -> None:
    them, user = one_poor_user(seed=2)
    found = largest_fall(*asked(them, user, 12))
    assert found.user == 5
    assert found.fall > found.upper
    assert found.as_large < 0.01


def test_the_answer_is_the_same_each_time() -> None:
    one = asked(*one_poor_user(seed=3), 12)
    assert largest_fall(*one) == largest_fall(*one)
    assert largest_fall(*one, spread=9.0) == largest_fall(*one, spread=9.0)


def test_users_that_differ_make_larger_falls_than_chance_alone() -> None:
    one = asked(*one_poor_user(seed=4), 12)
    chance, spread = largest_fall(*one), largest_fall(*one, spread=2.0)
    assert spread.median > chance.median
    assert spread.upper > chance.upper
    assert spread.as_large > chance.as_large


def test_what_is_seen_among_exchangeable_users_is_as_extreme_as_draws_say() -> None:
    """
    With users given to joints by lot, the rank of the largest fall seen is uniform: its mean over 40 registers is
    0.5, give or take three standard errors.
    """
    ranks = []
    for seed in range(40):
        them, user = drawn(3_000, 10, 3, 900, seed=seed, causes=1, risk=0.15)
        ranks.append(largest_fall(*asked(them, np.abs(user), 10), draws=300).as_large)
    assert np.mean(ranks) == pytest.approx(0.5, abs=3 * np.sqrt(1 / 12 / 40))
    assert min(ranks) < 0.2
    assert max(ranks) > 0.8


def test_what_is_drawn_comes_out_as_fitting_again_does() -> None:
    """Events that are given to other users at random, and fitted again: the same quantiles, within their error."""
    them, user = drawn(3_000, 8, 3, 900, seed=8, causes=1, risk=0.15)
    user = np.abs(user)
    one = asked(them, user, 8)
    found = largest_fall(*one)
    random, mine = np.random.default_rng(1), np.flatnonzero(them.own & (them.cause > 0))
    seen = []
    for _ in range(120):
        moved = user.copy()
        moved[mine] = random.choice(8, len(mine), p=one[3][:-1] / one[3][:-1].sum())
        seen.append(max(fall or 0.0 for fall in falls(one[0], left_out_ratios(them, moved, named(8)))))
    assert np.median(seen) == pytest.approx(found.median, rel=0.15)
    assert np.quantile(seen, 0.975) == pytest.approx(found.upper, rel=0.25)


def test_one_user_alone_cannot_be_told_from_the_implant() -> None:
    them, user = drawn(500, 3, 2, 90, seed=5)
    whole, left, seen, expected = asked(them, np.where(them.own, 0, user), 3)
    with pytest.raises(ModelError, match="Fewer than two users"):
        largest_fall(whole, left, seen, expected)
