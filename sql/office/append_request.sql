-- Add a line to the register of requests, after all others; a received request gets the next number.
--
-- writes:   requests
insert into requests (
    number, request, act, kind, code, said, day, due, given, checksum, written_by, account, written_at
)
select
    1 + coalesce(max(number), 0), coalesce(:request, 1 + coalesce(max(request), 0)), :act, :kind, :code, :said, :day, :due,
    :given, :checksum, :written_by, :account, :written_at
from requests
