"""Pools made of a synthetic register in memory, whose truth is known."""

import numpy as np

from regdash.signals.pool import Pool
from regdash.vocabulary import ENDINGS
from synthetic_registry import Register

REVISED = ENDINGS.index("revised")


def pools_of(register: Register) -> list[Pool]:
    """The two naming roles of each class of knees; strata by age band and sex."""
    count = len(register.days)
    (joint_class, classes), (band, _), (sex, sexes) = (register.covariate(n) for n in ("class", "age_band", "sex"))
    stratum = band.astype(np.int64) * len(sexes) + sex
    constructs = register.setting.implants.constructs
    pools = []
    for number, name in enumerate(classes):
        rows = np.flatnonzero(joint_class == number)
        for role, family in (("femoral", constructs.first), ("tibial", constructs.other)):
            used, unit = np.unique(family[register.joints.construct[:count][rows]], return_inverse=True)
            if len(used) > 1:
                codes = tuple(code_of(role, one) for one in used.tolist())
                own = (unit, register.days[rows].astype(np.int64), register.ended[rows] == REVISED, stratum[rows])
                pools.append(Pool(name, role, codes, np.zeros(len(codes), dtype=bool), rows, *own))
    return pools


def code_of(role: str, family: int) -> str:
    return f"{role[:1].upper()}-{family:03}"


def planted_code(register: Register, kind: str) -> str:
    """The tibial implant that was made poor; the parameters name it by kind."""
    poor = register.setting.parameters.frailty.poor_implants
    number = next(place for place, one in enumerate(poor) if one.kind == kind)
    construct = register.setting.implants.planted(number)
    return code_of("tibial", int(register.setting.implants.constructs.other[construct]))
