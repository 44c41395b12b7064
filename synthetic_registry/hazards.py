"""
How likely each joint is revised, for which group of reasons, in each interval since implantation.
Joints differ by patient, surgeon, hospital and implant; classes as a whole have the hazards of the parameters.
"""

from dataclasses import dataclass

import numpy as np

from synthetic_registry.implants import MIDDLE_SIZE
from synthetic_registry.joints import Joints, free
from synthetic_registry.leaving import Leaving
from synthetic_registry.parameters import DAYS_A_YEAR, JointClass
from synthetic_registry.setting import Setting

MIDPOINTS = (1, 1, 1, 2, 3, 6)  # of the intervals, at which the joints still followed are weighed


@dataclass(frozen=True)
class ClassHazards:
    """
    Hazards of the joints of one class.

    A joint's hazard for reason r in interval k is by_reason[r, k] * factor[r, joint] a day, times what its
    implant multiplies it by in that interval.
    """

    kind: JointClass
    at: np.ndarray  # (n,) positions among all joints
    starts: np.ndarray  # (k,) first day of each interval
    by_reason: np.ndarray  # (r, k) events a day for a joint whose factors are 1
    factor: np.ndarray  # (r, n)
    rate: np.ndarray  # (k, n) hazard of any revision, a day

    def before(self) -> np.ndarray:
        """Integrated hazard up to the start of each interval; (k, n)."""
        lengths = np.diff(self.starts)
        return np.vstack([np.zeros(len(self.at)), np.cumsum(self.rate[:-1] * lengths[:, None], axis=0)])


def whole_days(years: tuple[float, ...]) -> np.ndarray:
    """
    Turn bounds in years into whole days, so that no day lies in two intervals.

    >>> whole_days((0, 0.25, 1, 2)).tolist()
    [0, 91, 365, 730]
    """
    return np.array([int(year * DAYS_A_YEAR) for year in years])


def hazards(setting: Setting, joints: Joints, leave: Leaving) -> list[ClassHazards]:
    """
    Work out the hazards of all joints, class by class.

    The tuned hazards are those of a class as its register sees it: the factors are divided by their mean among
    the joints that are expected to be followed in each interval. So the classes' curves come out as tuned,
    whatever the patients, units and planted implants are.
    """
    return [_of_class(setting, joints, leave, place) for place in range(len(setting.parameters.classes))]


def _of_class(setting: Setting, joints: Joints, leave: Leaving, place: int) -> ClassHazards:
    parameters, kind = setting.parameters, setting.parameters.classes[place]
    at = np.flatnonzero(joints.joint_class == place)
    factor = _factors(setting, joints, kind, at)
    starts = whole_days(parameters.intervals)
    device = _device_factors(setting, joints, at, starts)
    tuned = np.array(list(kind.hazards.values())) / 1000 / DAYS_A_YEAR
    registered = at[at < joints.primaries.registered]  # the others come last
    followed = leave.of(registered)
    by_reason, rate = np.empty_like(tuned), np.empty((len(starts), len(at)))
    gone = np.zeros(len(registered))  # integrated hazard of revision up to the interval's start
    for k, days in enumerate(_weighing_days(starts, setting.days.last)):
        there = [_there(followed, day) * np.exp(-gone) for day in days]
        weight = np.sum(there, axis=0)
        for _ in range(2):  # first as if nobody were revised within the interval
            mean = _means(factor[:, : len(weight)], device[k], weight)
            by_reason[:, k] = tuned[:, k] / np.where(mean > 0, mean, 1)
            rate[k] = (by_reason[:, k] @ factor) * device[k]
            ours = rate[k, : len(weight)]
            weight = np.sum([t * np.exp(-ours * (day - starts[k])) for t, day in zip(there, days)], axis=0)
        if k + 1 < len(starts):
            gone += ours * (starts[k + 1] - starts[k])
    return ClassHazards(kind, at, starts, by_reason, factor, rate)


def _there(leave: Leaving, day: float) -> np.ndarray:
    """How likely each joint is still followed on a day, revision apart."""
    return np.where(leave.admin_day >= day, np.exp(-leave.integral(day)), 0.0)


def _means(factor: np.ndarray, device: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Mean factor for each group of reasons; (reasons,). Nobody there: everybody counts alike."""
    if not len(weight):  # a rare class of which only older joints are known
        return np.ones(len(factor))
    weight = weight if weight.sum() > 0 else np.ones(len(weight))
    return (factor @ (weight * device[: len(weight)])) / weight.sum()


def _weighing_days(starts: np.ndarray, last: int) -> list[np.ndarray]:
    """Choose days within each interval, at the middles of equal parts."""
    ends = np.append(starts[1:], max(last, starts[-1] + 1))
    return [
        start + (np.arange(parts) + 0.5) * (end - start) / parts for start, end, parts in zip(starts, ends, MIDPOINTS)
    ]


def _factors(setting: Setting, joints: Joints, kind: JointClass, at: np.ndarray) -> np.ndarray:
    """Multiply the effects of patient, unit and year for each group of reasons; (reasons, joints)."""
    units = setting.units
    common = units.hospitals.factor[joints.hospital[at]] * units.surgeons.factor[joints.surgeon[at]]
    common *= setting.parameters.era ** (joints.calendar_year[at] - setting.parameters.start.year)
    reasons = list(kind.hazards)
    factor = np.tile(common, (len(reasons), 1))
    for effect in kind.effects:
        codes, listed = joints.covariate(effect.covariate)
        by_word = np.array([effect.factors.get(word, 1.0) for word in listed])[codes[at]]
        for row in (reasons.index(reason) for reason in effect.reasons if reason in reasons):
            factor[row] *= by_word
    return factor


def _device_factors(setting: Setting, joints: Joints, at: np.ndarray, starts: np.ndarray) -> list[np.ndarray]:
    """Multiply the effects of the implant, planted ones included; one array of the joints for each interval."""
    implants, construct = setting.implants, joints.construct[at]
    factor = [implants.families.factor[implants.constructs.other[construct]]] * len(starts)
    for number, planted in enumerate(setting.parameters.frailty.poor_implants):
        poor = construct == implants.planted(number)
        if planted.one_size_only:
            poor &= joints.other_size[at] == MIDDLE_SIZE
        worse = np.where(poor, planted.factor, 1.0)
        factor = [f * worse if start >= planted.from_day else f for f, start in zip(factor, starts)]
    lot = setting.parameters.frailty.poor_lot
    if lot:
        worse = np.where(of_poor_lot(setting, joints, at), lot.factor, 1.0)
        factor = [f * worse for f in factor]
    return factor


def of_poor_lot(setting: Setting, joints: Joints, at: np.ndarray) -> np.ndarray:
    """Say which joints have the component of the planted lot; (n,) bool, all of the first class."""
    lot, implants = setting.parameters.frailty.poor_lot, setting.implants
    if lot is None:
        return np.zeros(len(at), bool)
    day, first = joints.primaries.day[at], setting.days.number(lot.first_day)
    other = implants.constructs.other[joints.construct[at]]
    loose = free(joints.fixation[at], setting.parameters.other_free)
    return (
        (joints.joint_class[at] == 0)
        & (other == implants.constructs.other[implants.best_seller])
        & (joints.other_size[at] == MIDDLE_SIZE)
        & (loose == lot.cementless)
        & (day >= first)
        & (day <= setting.days.number(lot.last_day))
    )
