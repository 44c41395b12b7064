-- Which version of a feed's record stands, for all feeds together; single versions are left out.
--
-- creates:  feed_versions
-- needs:    versions_of_each

create or replace temp view feed_versions as
{versions_of_each}
