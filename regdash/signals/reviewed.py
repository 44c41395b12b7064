"""A screen beside its reviews and the screen of an earlier cut: what is new, what people decided, what is gone."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from regdash import grouping
from regdash.cohort import Cohort
from regdash.reports.apart import JOINT, by_joint, joints_held, noted
from regdash.reports.policy import Policy
from regdash.reports.wording import NO_JOINTS
from regdash.signals import wording
from regdash.signals.earlier import Earlier, earlier_cut
from regdash.signals.model import (
    ALL,
    LOOK_CLOSER,
    TOO_FEW,
    ReviewsUsed,
    ScreenReport,
    ScreenRow,
    SignalRow,
    SignalsReport,
)
from regdash.signals.pool import windows_of
from regdash.signals.report import screen_report
from regdash.signals.seen import moved, seen
from regdash.signals.settings import ScreenSettings
from regdash.store.cuts import Cut
from regdash.store.signal_reviews import EVERY, Reviews, Unit
from regdash.vocabulary import CLASSES

WEIGHT = 200_000  # numbers in a screen, about
MEASURE = "signals of {kind}"
Place = tuple[Unit, str]  # a unit, and a window
_OF_UNITS = ("joint", "class")  # filter words that choose units as a whole, so that it is known which are missing


@dataclass(frozen=True)
class Asked:
    """A screen that is asked for, on whichever cut."""

    policy: Policy
    settings: ScreenSettings
    kind: str
    cohort: Cohort
    used: ReviewsUsed

    def on(self, cut: Cut) -> ScreenReport:
        """Screen a cut; joints are never mixed."""
        apart, fields = by_joint(cut, self.cohort, ()), grouping.parse(self.settings.adjust)
        asked = (self.policy, self.settings, self.kind, self.cohort, fields, self.settings.windows)
        return noted(screen_report(cut, *asked, apart, self.used), ())

    def remembered(self, cut: Cut, of: str, make: Callable[[], ScreenReport]) -> ScreenReport:
        """Screen once for the same settings, cohort and confirmed units, whatever else people decide meanwhile."""
        confirmed = self.used.confirmed(self.kind)
        key = ("screen", of, self.kind, str(self.cohort), self.settings.hash, confirmed, self.used.as_of, self.policy)
        return replace(cut.remembered.get(key, make, lambda _: WEIGHT), used=self.used)


def signals_report(cut: Cut, asked: Asked, since: str | None = None, compared: bool = True) -> SignalsReport:
    """
    Answer: which signals are there, what became of them, and which are first seen, seen again or not seen since?

    Args:
        since: the earlier cut; that of the through-date before, if left out.
        compared: False leaves the earlier cut alone, which takes half the time.

    Raises:
        FilterError, StoreError: as `screen_report` and `earlier_cut`.
        Cancelled: from another thread.
    """
    now = asked.remembered(cut, cut.name, partial(asked.on, cut))
    found = {_place(asked, cut, row): row for row in now.rows}
    before, told = None, list[str]()
    manifest = earlier_cut(cut, since) if compared else None
    earlier = Earlier(cut, manifest) if manifest else None
    if earlier and (why_not := earlier.why_not()):
        earlier, told = None, [wording.not_compared(why_not)]
    elif compared and not earlier:
        told = [wording.NO_EARLIER_CUT]
    if earlier:
        before = asked.remembered(cut, earlier.manifest.cut, partial(earlier.screened, asked.on))
        told = [wording.compared_with(earlier.manifest.cut)]
    rows = tuple(_rows(asked, cut, now, found, earlier, before))
    first = [one for one in now.head.cautions if one == NO_JOINTS]
    first += [wording.SIGNAL_STARTS_A_REVIEW, now.false_signals, *told, wording.DECISIONS_REST]
    first += _by_other_settings(rows, asked.settings.hash)
    rest = [caution for caution in now.head.cautions if caution not in first]
    head = replace(now.head, measure=MEASURE.format(kind=asked.kind), cautions=(*first, *rest))
    return SignalsReport(now, head, rows, earlier.manifest.cut if earlier else None)


def _by_other_settings(rows: Sequence[SignalRow], settings: str) -> list[str]:
    """Say of which units the decision that stands rests on other settings than this screen's."""
    other = {row.unit.code for row in rows if row.review and row.review.rests_on.settings_hash != settings}
    return [wording.by_other_settings(sorted(other))] if other else []


def _place(asked: Asked, cut: Cut, row: ScreenRow) -> Place:
    return Unit(asked.kind, *_joint_and_class(asked, cut, row.joint_class), row.role, row.code), row.window


def _joint_and_class(asked: Asked, cut: Cut, label: str) -> tuple[str, str]:
    """Tell joint and class apart; a screen of one joint leaves the joint out."""
    joint_class, _, joint = label.rpartition(" ")
    if joint in CLASSES and joint_class in CLASSES[joint]:
        return joint, joint_class
    return only_joint(cut, asked.cohort), label


def only_joint(cut: Cut, cohort: Cohort) -> str:
    """Name the one joint that a cohort holds."""
    for one in cohort.conditions:
        if one.key == JOINT.key and not one.negated and len(one.values) == 1:
            return str(one.values[0])
    held = joints_held(cut, cohort)
    return cut.words["joint_words"][held[0]] if held else ""


def _rows(
    asked: Asked,
    cut: Cut,
    now: ScreenReport,
    found: dict[Place, ScreenRow],
    earlier: Earlier | None,
    before: ScreenReport | None,
) -> Iterator[SignalRow]:
    past = {_place(asked, cut, row): row for row in before.rows} if before else {}
    how = {place: seen(found.get(place), past.get(place)) for place in [*found, *past]} if before else {}
    moves = earlier.moves(asked.cohort, {unit for (unit, _), what in how.items() if what}) if earlier else {}
    windows = {window.label: window for window in windows_of(now.windows)}
    gone = [place for place, row in past.items() if row.signal == LOOK_CLOSER and place not in found]
    reviews = asked.used.reviews
    decided = [place for place in _decided(asked, reviews, {*found, *gone}) if place not in gone]
    for place in [*found, *gone, *decided]:
        (unit, window), row = place, found.get(place)
        what, review = how.get(place), reviews.standing(unit, window)
        out = before is not None and set(now.apart) ^ set(before.apart) - {unit.code}
        yield SignalRow(
            unit=unit,
            screened=row or _missing(unit, window),
            review=review,
            state=reviews.state(unit, window),
            before=past.get(place),
            seen=what,
            moved=moved(asked.policy, what, windows[window], (past.get(place), row), moves[unit], bool(out))
            if what
            else None,
        )


def _decided(asked: Asked, reviews: Reviews, there: set[Place]) -> list[Place]:
    """What was decided on and is not in this screen, where the filter does not say that it should not be."""
    if any(one.key not in _OF_UNITS or one.negated for one in asked.cohort.conditions):
        return []
    chosen = {one.key: one.values for one in asked.cohort.conditions}
    units, found = {unit for unit, _ in there}, []
    for unit in reviews.units:
        if unit.kind != asked.kind or not _chosen(unit, chosen):
            continue
        for window in dict.fromkeys(one.window for one in reviews.life(unit)):
            place = (unit, ALL if window == EVERY else window)
            if place not in there and (window != EVERY or unit not in units):
                found.append(place)
    return list(dict.fromkeys(found))


def _chosen(unit: Unit, chosen: Mapping[str, tuple[object, ...]]) -> bool:
    return unit.joint in chosen.get("joint", (unit.joint,)) and unit.joint_class in chosen.get(
        "class", (unit.joint_class,)
    )


def _missing(unit: Unit, window: str) -> ScreenRow:
    """A row for what the screen does not tell of."""
    figures = dict.fromkeys(name for name in ScreenRow.__dataclass_fields__ if name not in _NAMES)
    return ScreenRow(
        code=unit.code,
        role=unit.role,
        joint_class=unit.joint_class,
        window=window,
        **{**figures, "signal": TOO_FEW, "withheld": wording.NOT_IN_SCREEN},  # type: ignore[arg-type]
    )


_NAMES = ("code", "role", "joint_class", "window")
