-- Whether a rule of an older release still fits what it judges: it finds nothing here, but what it names must be there.
--
-- needs:    relation, shows, predicate

select ({shows})::varchar from {relation} where ({predicate}) limit 0
