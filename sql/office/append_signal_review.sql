-- Add a decision on a signal, after all others.
--
-- writes:   signal_reviews
insert into signal_reviews (
    number, kind, joint, joint_class, role, code, window, state, why, decided_by, account, decided_at, cut, content_hash,
    cohort, settings_version, settings_hash, figures_of, signal, joints, implant_years, revisions, expected,
    hazard_ratio, lower, upper, q, supersedes
)
select
    1 + coalesce(max(number), 0), :kind, :joint, :joint_class, :role, :code, :window, :state, :why, :decided_by, :account,
    :decided_at, :cut, :content_hash, :cohort, :settings_version, :settings_hash, :figures_of, :signal, :joints,
    :implant_years, :revisions, :expected, :hazard_ratio, :lower, :upper, :q, :supersedes
from signal_reviews
