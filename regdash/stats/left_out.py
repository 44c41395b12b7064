"""An implant's hazard ratio with each of its users left out in turn: hospitals or surgeons."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from regdash.errors import CountError
from regdash.stats.event_cells import Cells, event_cells
from regdash.stats.own_and_others import OwnAndOthers
from regdash.stats.products import product
from regdash.stats.risk_shares import Block, Counted, ScreenedRatio, Shares, window_ratios

_BLOCK = 2**19  # users × denominators, held at one time
_SAMPLE = 512  # denominators that stand for all where events are drawn


@dataclass(frozen=True, eq=False)
class LeftOut:
    """What is left when each user's joints, with the implant or without, are taken away."""

    ratios: tuple[ScreenedRatio, ...]  # one a user
    sampled: np.ndarray  # (users, s) shares of risk sets, of denominators evenly spaced among all
    denominators: np.ndarray  # (users,) how many there are that have a share


def left_out_ratios(them: OwnAndOthers, user: np.ndarray, names: Sequence[str], level: float = 0.95) -> LeftOut:
    """
    Estimate the stratified hazard ratio of an implant to all others without each user.

    Each is what `OwnAndOthers.ratio` gives of the joints that are not the user's: Cox's model with one column that is
    1 for the implant's joints, Efron's ties. All users are found together, from the counts of the whole less theirs.

    Args:
        them: both sides.
        user: (n,) int, the user of each joint, -1 where it is none that is left out.
        names: of the users.

    Raises:
        CountError: not one user a joint, or one without a name.
    """
    if len(user) != len(them) or user.max(initial=-1) >= len(names):
        raise CountError("Each joint needs a user that has a name, or -1.")
    hit = np.flatnonzero(them.cause)
    strata = int(them.stratum.max(initial=0)) + 1
    cells, cell = event_cells(them.stratum[hit], them.day[hit], np.ones(len(hit)), strata)
    if not len(cells) or not len(names):
        return LeftOut((), np.zeros((len(names), 0)), np.zeros(len(names)))
    users = _Users(_Whole(them, cells, hit, cell), user, len(names))
    left = [np.array(each)[:, None] for each in (users.whole.joints - users.joints, users.whole.events - users.events)]
    counted = Counted(left[0], left[1], np.ones(1, dtype=bool))
    (found,) = window_ratios(users.blocks(), counted, np.ones((1, len(names)), dtype=bool), names, level, 1.0)
    ratios = tuple(one for one in found if one is not None)
    return LeftOut(ratios, np.concatenate(users.sampled), np.concatenate(users.denominators))


class _Whole:
    """Both sides with nobody left out, in the cells in which the implant is at risk."""

    def __init__(self, them: OwnAndOthers, cells: Cells, hit: np.ndarray, cell: np.ndarray) -> None:
        self.them, self.cells, self.hit = them, cells, hit
        self.place = cells.places_of(them.stratum, them.day)
        own = np.bincount(self.place[them.own], minlength=cells.places)
        own_at_risk, at_risk = cells.remaining(own), cells.remaining(np.bincount(self.place, minlength=cells.places))
        used = np.flatnonzero(own_at_risk > 0)
        self.used, self.own_at_risk, self.at_risk = used, own_at_risk[used], at_risk[used]
        self.tied = cells.events[used]
        place = np.full(len(cells), -1)
        place[used] = np.arange(len(used))
        self.cell = place[cell]  # (hits,) place among the used cells; -1 where the implant is not at risk
        mine = them.own[hit] & (self.cell >= 0)
        self.own_tied = np.bincount(self.cell[mine], minlength=len(used))
        self.first = np.cumsum(self.tied) - self.tied  # first denominator of each cell
        self.of = np.repeat(np.arange(len(used)), self.tied)  # cell of each denominator
        self.off = np.arange(len(self.of)) - self.first[self.of]  # 0 to the cell's events less 1
        self.events, self.joints = them.events, int(np.count_nonzero(them.own))


class _ByUser:
    """Places of joints, in order of their users."""

    def __init__(self, user: np.ndarray, users: int, place: np.ndarray) -> None:
        order = np.argsort(user, kind="stable")
        self.starts = np.insert(np.cumsum(np.bincount(user, minlength=users)), 0, 0)
        self.user, self.place = user[order], place[order]

    def by_place(self, first: int, size: int, places: int) -> np.ndarray:
        """(size, places) joints of some users by place."""
        rows = slice(self.starts[first], self.starts[first + size])
        key = (self.user[rows] - first) * places + self.place[rows]
        return np.bincount(key, minlength=size * places).reshape(size, places)


class _Users:
    """The joints of each user."""

    def __init__(self, whole: _Whole, user: np.ndarray, users: int) -> None:
        them = whole.them
        rows, mine = np.flatnonzero(user >= 0), np.flatnonzero((user >= 0) & them.own)
        self.whole, self.user = whole, user
        self.all = _ByUser(user[rows], users, whole.place[rows])
        self.own = _ByUser(user[mine], users, whole.place[mine])
        self.joints = np.bincount(user[mine], minlength=users)
        self.events = np.bincount(user[mine], them.cause[mine] > 0, users).astype(np.int64)
        hits = np.flatnonzero((user[whole.hit] >= 0) & (whole.cell >= 0))
        who = user[whole.hit[hits]]
        pair, number = np.unique(who * len(whole.used) + whole.cell[hits], return_inverse=True)
        self.pair_user, self.pair_cell = np.divmod(pair, max(len(whole.used), 1))
        self.pair_tied = np.bincount(number, minlength=len(pair))
        self.pair_own = np.bincount(number, them.own[whole.hit[hits]], len(pair)).astype(np.int64)
        self.sampled: list[np.ndarray] = []
        self.denominators: list[np.ndarray] = []

    def blocks(self) -> Iterator[Block]:
        """Give what is left without some users at a time, and keep a sample of it."""
        step = max(1, _BLOCK // max(len(self.whole.of), 1))
        for first in range(0, len(self.joints), step):
            shares, expected = self.without(first, min(step, len(self.joints) - first))
            every = max(1, shares.of.shape[1] // _SAMPLE)
            self.sampled.append(shares.of[:, every // 2 :: every].copy())
            self.denominators.append(shares.trials)
            yield Block(first, (shares,), expected[:, None])

    def without(self, first: int, size: int) -> tuple[Shares, np.ndarray]:
        """Shares of the risk sets without each of some users, and the events expected then."""
        whole, cells = self.whole, self.whole.cells
        own = whole.own_at_risk - cells.remaining_by_row(self.own.by_place(first, size, cells.places))[:, whole.used]
        both = whole.at_risk - cells.remaining_by_row(self.all.by_place(first, size, cells.places))[:, whole.used]
        np.maximum(both, 1, out=both)  # where nobody is left there is no event either
        portion = own / both
        expected = product(portion, whole.tied.astype(float))
        shares = portion[:, whole.of]
        later = np.flatnonzero(whole.off)
        if len(later):
            cell = whole.of[later]
            off = whole.off[later] / whole.tied[cell]
            shares[:, later] = _over(own[:, cell] - off * whole.own_tied[cell], both[:, cell] - off * whole.tied[cell])
        some = slice(*np.searchsorted(self.pair_user, [first, first + size]))
        row, cell = self.pair_user[some] - first, self.pair_cell[some]
        np.subtract.at(expected, row, portion[row, cell] * self.pair_tied[some])
        self._fewer_events(shares, own, both, some, first)
        return Shares(shares, None), np.maximum(expected, 0)

    def _fewer_events(self, shares: np.ndarray, own: np.ndarray, both: np.ndarray, some: slice, first: int) -> None:
        """Write anew the denominators of cells in which a user has events, which are fewer without them."""
        whole = self.whole
        cell = self.pair_cell[some]
        times = whole.tied[cell]
        pair = np.repeat(np.arange(len(cell)), times)
        off = np.arange(len(pair)) - np.repeat(np.cumsum(times) - times, times)
        row, at = self.pair_user[some][pair] - first, cell[pair]
        tied = (whole.tied[cell] - self.pair_tied[some])[pair]
        own_tied = (whole.own_tied[cell] - self.pair_own[some])[pair]
        portion = off / np.maximum(tied, 1)
        left = _over(own[row, at] - portion * own_tied, both[row, at] - portion * tied)
        shares[row, whole.first[at] + off] = np.where(off < tied, left, 0)


def _over(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    return np.divide(one, other, out=np.zeros(np.broadcast(one, other).shape), where=other > 0)
