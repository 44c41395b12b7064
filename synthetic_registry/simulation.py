"""
Simulating registers: one kind of joint, or several on the same hospitals, surgeons and patients.
"""

from collections.abc import Sequence
from datetime import date

from regdash import vocabulary as words
from synthetic_registry.hazards import hazards
from synthetic_registry.hip import HIP
from synthetic_registry.implants import make_implants
from synthetic_registry.joints import draw_joints
from synthetic_registry.knee import KNEE
from synthetic_registry.lives import draw_lives
from synthetic_registry.operation_days import OperationDays
from synthetic_registry.parameters import Parameters
from synthetic_registry.patients import draw_primaries
from synthetic_registry.people import draw_exits, leaving, share_patients
from synthetic_registry.register import Register
from synthetic_registry.setting import Setting
from synthetic_registry.shoulder import SHOULDER
from synthetic_registry.units import make_units

THROUGH = date(2024, 12, 31)
ALL = (KNEE, HIP, SHOULDER)
LEAST = 500  # joints of a register, all kinds together
LEAST_OF_A_KIND = 30


def parameters_of(joints: Sequence[str]) -> tuple[Parameters, ...]:
    """Find the parameters of some kinds of joints, in the vocabulary's order."""
    return tuple(own for own in ALL if own.joint in joints)


def simulate(
    joints: int = 20_000,
    seed: int = 1,
    *,
    through: date = THROUGH,
    parameters: Parameters = KNEE,
    prior: bool = False,
) -> Register:
    """
    Simulate a register of one kind of joint in memory.

    Args:
        joints: how many primary joints it holds, at least 500.
        seed: the same seed gives the same register.
        through: the last day of follow-up, at least one year after the register's start.
        parameters: what it is made from.
        prior: with joints from before the register's start, which follow the registered ones in `joints` and
            `lives`. With them it is the very register that `make` writes for this size, seed and kind alone.

    Raises:
        ValueError: too few joints, or too short a time.
    """
    return simulate_several(joints, seed, through=through, parameters=(parameters,), prior=prior)[0]


def simulate_several(
    joints: int = 20_000,
    seed: int = 1,
    *,
    through: date = THROUGH,
    parameters: Sequence[Parameters] = ALL,
    prior: bool = False,
) -> tuple[Register, ...]:
    """
    Simulate registers of several kinds of joints on the same hospitals, surgeons and patients; see `simulate`.

    Args:
        joints: how many primary joints they hold together, shared out by the parameters.
        parameters: of each kind of joint, all with the same start.
    """
    if joints < LEAST:
        raise ValueError(f"A register needs at least {LEAST} joints to look like one; {joints} were asked for.")
    calendars = [OperationDays(own.start, through, own.structure) for own in parameters]
    if calendars[0].last < 365:
        raise ValueError(f"A register must last a year; from {parameters[0].start} to {through} is too short.")
    units = make_units(parameters, calendars, joints, seed)
    settings = [
        Setting(
            parameters=own,
            days=days,
            units=place,
            implants=make_implants(own, days, count, seed),
            primaries=draw_primaries(own, days, count, seed, prior=prior),
            seed=seed,
        )
        for own, days, place, count in zip(parameters, calendars, units, _counts(parameters, joints), strict=True)
    ]
    drawn = share_patients(settings, [draw_joints(setting) for setting in settings])
    return _alive(settings, drawn)


def _counts(parameters: Sequence[Parameters], joints: int) -> list[int]:
    """Share joints out between the kinds, by their part in a register of several."""
    total = sum(own.primaries for own in parameters)
    counts = [max(round(joints * own.primaries / total), LEAST_OF_A_KIND) for own in parameters]
    counts[0] += joints - sum(counts)
    return counts


def _alive(settings: Sequence[Setting], drawn: Sequence) -> tuple[Register, ...]:
    """Let the joints live."""
    leave = leaving(settings, drawn)
    rngs = [setting.stream("lives") for setting in settings]
    exits = draw_exits(rngs[0], settings, drawn)
    registers = []
    for setting, joints, own, rng in zip(settings, drawn, leave, rngs, strict=True):
        classes = hazards(setting, joints, own)
        lives = draw_lives(rng, setting.parameters.joint, joints, classes, own, exits)
        registers.append(Register(setting, joints, own, classes, lives))
    return tuple(registers)


assert tuple(own.joint for own in ALL) == words.JOINTS
