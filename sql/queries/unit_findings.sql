-- What a cut asks of hospitals and surgeons whose figures break a rule about units.
--
-- grain:    unit, period, rule, detail
-- reads:    unit_findings
-- columns:  unit_kind  varchar  hospital or surgeon
--           unit       varchar  code of the unit
--           period     varchar  year, month or day
--           rule       varchar  name of the rule
--           detail     varchar  field, reason, digit or class that it is about; null where there is none
--           figure     double   the unit's figure
--           usual      double   what is usual; null where the rule has a limit of its own
--           text       varchar  what the unit is asked
select unit_kind, unit, period, rule, detail, figure, usual, text
from unit_findings
order by unit_findings.unit_kind, unit_findings.unit, unit_findings.period, unit_findings.rule, unit_findings.detail
