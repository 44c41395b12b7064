-- A row that repeats another of its file was found to be that and needs no other finding: what is
-- wrong with it is wrong with the first.
--
-- writes:   row_findings
-- needs:    table

delete from row_findings
where table_name = '{table}'
    and severity <> 'known already'
    and place in (select place from read_{table} where repeats_row)
