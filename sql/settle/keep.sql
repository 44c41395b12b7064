-- What was settled goes to the store, for those who ask what is held today.
--
-- writes:   submission_files, links, operations

delete from submission_files;
insert into submission_files by name select * from settled_files;

delete from links;
insert into links by name select * from settled_links;

update operations set known_to = v.known_to, repeats = v.standing = 'repeat'
from versions_operations as v
where v.version_no = operations.version_no
    and (operations.known_to is distinct from v.known_to or operations.repeats <> (v.standing = 'repeat'))
