-- Where the units feed names no system at all, none is judged.
--
-- version:  1
-- severity: warn
-- starts:   1900-01-01
-- shows:    technology_system
-- text:     The hospital is not known to have this robot or navigation system on that day; please check the code.

technology_system is not null and exists (from known_hospital_systems)
and not (system_is_known
    and coalesce(operation_date between coalesce(system_from, operation_date) and coalesce(system_to, operation_date), true))
