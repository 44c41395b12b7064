-- From when to when each version of a feed's record stood.
--
-- writes:   {table}
-- needs:    table

update {table} set known_to = v.known_to, repeats = v.standing = 'repeat'
from versions_{table} as v
where v.version_no = {table}.version_no
    and ({table}.known_to is distinct from v.known_to or {table}.repeats <> (v.standing = 'repeat'))
