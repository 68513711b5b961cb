-- makes:   checks.person_missing
-- reads:   clean.episodes
-- grain:   one row per sender and site
-- key:     subject
-- severity: note
-- about:   Episodes without a person. Each counts as a person of its own, and recurrences cannot be seen.
-- columns:
--   subject  varchar  what is concerned, by sender and pseudonym
--   site     varchar  the site it belongs to; empty when that cannot be known
--   detail   varchar  what is odd about it
--   rows     integer  rows concerned
--   _file    integer  file of the row, or of the first of them; empty when it is about no row
--   _line    integer  its first physical line in that file
with missing as (
    select sender, site, _file, _line
    from clean.episodes
    where person_id is null
)

select
    'site ' || sender || '/' || site as subject,
    site,
    'no person_id' as detail,
    cast(count(*) as integer) as rows,
    min(_file) as _file,
    min(_line) filter (where _file = first_file) as _line
from (select *, min(_file) over (partition by sender, site) as first_file from missing)
group by sender, site
order by subject
