-- Hospitals and surgeons whose figures break a rule about units: questions to ask, no fault of any row. The latest
-- period comes first.
--
-- grain:    unit, rule, period, detail
-- reads:    unit_findings
-- columns:  unit_kind  varchar  hospital or surgeon
--           unit       varchar  code of the unit
--           rule       varchar  name of the rule
--           severity   varchar  warn or note
--           period     varchar  year, month or day
--           detail     varchar  field, reason, digit or class that it is about; null where there is none
--           figure     double   the unit's figure
--           usual      double   what is usual; null where the rule has a limit of its own
--           told       varchar  what the unit is asked
select unit_kind, unit, rule, severity, period, detail, figure, usual, text as told
from unit_findings
where unit_kind <> 'hospital'
    or (
        ($senders::varchar[] is null or list_contains($senders, unit))
        and not list_contains($others::varchar[], unit)
    )
order by period desc, unit_findings.unit_kind, unit_findings.unit, unit_findings.rule, unit_findings.detail
