"""Rows that break the rules on records beside what else is known: operations, components, patients, joints."""

from tests.intake.rule_bench import DAY, LATER, Bench, case, death, loss, number
from tests.intake.small_register import (
    component,
    partial,
    partial_knee,
    patient,
    primary,
    reason,
    revision,
    total_knee,
)


@case("operation_facts", "hospital-inactive")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary(number(n), n, "1999-12-31"))


@case("operation_facts", "surgeon-unknown")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary(number(n), n, DAY, surgeon_id="S9999"))


@case("operation_facts", "surgeon-inactive")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary(number(n), n, DAY, surgeon_id="S0002"))


@case("operation_facts", "primary-with-reasons")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary(number(n), n, DAY), reasons=[reason(number(n))])


@case("operation_facts", "revision-without-reason")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(revision(number(n, 1), n, LATER), reasons=[])


@case("operation_facts", "class-disagrees")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary(number(n), n, DAY), parts=partial_knee(number(n)))


@case("operation_facts", "birth-year-differs")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(primary(number(n, 1), n, LATER, side="right", birth_year="1952"))


@case("operation_facts", "sex-differs")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(primary(number(n, 1), n, LATER, side="right", sex="male"))


@case("operation_facts", "bearing-disagrees")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary(number(n), n, DAY, bearing="mobile"))


@case("operation_facts", "constraint-disagrees")
def _(bench: Bench, n: int) -> str:
    parts = [*total_knee(number(n)), component(number(n), 4, "stem", "KS001-3A")]
    return bench.add(primary(number(n), n, DAY), parts=parts)


@case("operation_facts", "leading-reason-unclear")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    both = [reason(number(n, 1), "instability", "yes", 1), reason(number(n, 1), "stiffness", "yes", 2)]
    return bench.add(revision(number(n, 1), n, LATER), reasons=both)


@case("component_facts", "catalogue-number-unknown")
def _(bench: Bench, n: int) -> str:
    parts = [*total_knee(number(n)), component(number(n), 4, "stem", "nowhere")]
    return bench.add(primary(number(n), n, DAY), parts=parts)


@case("component_facts", "operation-held")
def _(bench: Bench, n: int) -> str:
    return bench.add(primary(number(n), n, DAY, side=""))


@case("component_facts", "operation-known")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(primary(number(n, 1), n, DAY))


@case("reason_facts", "operation-held")
def _(bench: Bench, n: int) -> str:
    return bench.add(revision(number(n), n, DAY, side=""))


@case("reason_facts", "operation-known")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    bench.add(revision(number(n, 1), n, LATER))
    return bench.add(revision(number(n, 2), n, LATER))


@case("same_day_operations", "submitted-twice")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(primary(number(n, 1), n, DAY))


@case("same_day_operations", "same-day-other-components")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(
        primary(number(n, 1), n, DAY),
        parts=[component(number(n, 1), 1, "femoral", "KF002-3A"), *total_knee(number(n, 1))[1:]],
    )


@case("operations_after_death", "operation-after-death")
def _(bench: Bench, n: int) -> str:
    bench.deaths.append(death(n))
    return bench.add(primary(number(n), n, "2004-09-02"))


@case("deaths_before_operation", "death-before-operation")
def _(bench: Bench, n: int) -> str:
    bench.deaths.append(death(n))
    bench.add(primary(number(n), n, "2004-09-02"))
    return patient(n)


@case("deaths_before_operation", "death-before-birth")
def _(bench: Bench, n: int) -> str:
    bench.deaths.append(death(n, "1949-09-01"))
    bench.add(primary(number(n), n, DAY))
    return patient(n)


@case("operations_after_loss", "operation-after-loss")
def _(bench: Bench, n: int) -> str:
    bench.losses.append(loss(n))
    return bench.add(primary(number(n), n, "2004-09-02"))


@case("primaries_in_order", "second-primary")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(primary(number(n, 1), n, LATER))


@case("primaries_in_order", "second-partial")
def _(bench: Bench, n: int) -> str:
    bench.add(partial(number(n), n, DAY))
    return bench.add(partial(number(n, 1), n, LATER, compartment="lateral"))


@case("revisions_and_primaries", "side-conflict")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(revision(number(n, 1), n, LATER, side="right"))


@case("revisions_and_primaries", "revision-before-primary")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, LATER))
    return bench.add(revision(number(n, 1), n, DAY))


@case("revisions_and_primaries", "progression-on-total")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(revision(number(n, 1), n, LATER), reasons=[reason(number(n, 1), "progression-of-disease")])


@case("revisions_and_primaries", "dislocation-on-fixed")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(revision(number(n, 1), n, LATER), reasons=[reason(number(n, 1), "bearing-dislocation")])


@case("revisions_and_primaries", "revision-on-day-0")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(revision(number(n, 1), n, DAY))


@case("revisions_and_primaries", "second-stage-alone")
def _(bench: Bench, n: int) -> str:
    bench.add(primary(number(n), n, DAY))
    return bench.add(revision(number(n, 1), n, LATER, stage="second-of-two"), reasons=[])
