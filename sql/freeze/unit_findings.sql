-- One rule applied to the figures of units.
--
-- writes:   unit_findings
-- needs:    shows, predicate

insert into cut.unit_findings by name
select unit_kind, unit, $rule as rule, $rule_version as rule_version, $severity as severity, period, ({shows})::varchar as detail,
    figure, usual, $text as text
from unit_figures
where {predicate}
order by unit_kind, unit, period, detail
