-- The lines of the register of requests up to a number (all, if none is given), oldest first.
--
-- grain:    number
-- reads:    requests
select
    number, request, act, kind, code, said, day, due, given, checksum, written_by, account, written_at
from requests
where :lines is null or number <= :lines
order by number
