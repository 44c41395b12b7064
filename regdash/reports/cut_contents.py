"""What one data cut of the store holds, beside what its manifest says: joints, linked share, rows held by rule."""

from dataclasses import dataclass

from regdash.cohort import Cohort
from regdash.reports.field_values import value_counts
from regdash.reports.findings import findings_report
from regdash.reports.linked import linked_report
from regdash.reports.policy import Policy
from regdash.reports.records import Asked
from regdash.reports.submitted_rows import RuleTotal
from regdash.store.cuts import Cut

KEEPS_BACK = ("reject", "hold")


@dataclass(frozen=True)
class CutContents:
    """What a cut holds; a count is None where the policy withholds it."""

    cut: str
    joints: dict[str, int]  # by joint
    revisions: int | None  # operations
    linked: int | None
    linked_share: float | None
    held: int | None  # rows and rules that keep them back, rejected ones too
    rules: tuple[RuleTotal, ...]  # that keep rows back


def cut_contents(cut: Cut, policy: Policy) -> CutContents:
    """Count what a cut holds; the linked share is of the revisions of all joints together, as a freeze compares it."""
    linked = linked_report(cut, policy, Asked()).rows
    whole = linked[0] if linked else None
    findings = findings_report(cut, policy, Cohort())
    kept_back = [findings.by[severity] for severity in KEEPS_BACK]
    return CutContents(
        cut=cut.name,
        joints=value_counts(cut, policy, "joint", Cohort()),
        revisions=whole.revisions if whole else 0,
        linked=whole.linked if whole else 0,
        linked_share=whole.share if whole else None,
        held=None if None in kept_back else sum(count or 0 for count in kept_back),
        rules=tuple(rule for rule in findings.rules if rule.severity in KEEPS_BACK),
    )
