-- Rows as they were sent, where the store's values would not be written the same again: rejected, or spelled in another
-- way. A row that repeats another of its file is that row.
--
-- writes:   sent_rows
-- needs:    table, texts, differs

insert into sent_rows
select '{table}', r.place, r.operation_id_text, [{texts}]
from read_{table} as r
where not r.repeats_row
    and (
        r.place in (select place from row_findings where table_name = '{table}' and severity = 'reject')
        or {differs}
    )
