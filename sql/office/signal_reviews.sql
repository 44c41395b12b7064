-- The decisions on signals taken up to the end of a day (all, if none is given), oldest first.
--
-- grain:    number
-- reads:    signal_reviews
select
    number, kind, joint, joint_class, role, code, window, state, why, decided_by, account, decided_at, cut, content_hash,
    cohort, settings_version, settings_hash, figures_of, signal, joints, implant_years, revisions, expected,
    hazard_ratio, lower, upper, q, supersedes
from signal_reviews
where :as_of is null or substr(decided_at, 1, 10) <= :as_of
order by number
