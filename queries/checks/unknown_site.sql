-- makes:   checks.unknown_site
-- reads:   clean.episodes, settings.sites
-- grain:   one row per sender and site
-- key:     subject
-- severity: attention
-- about:   Episodes of a site that the settings do not name. No figure of a site counts them, and they cannot
--          be used until it is named.
-- columns:
--   subject  varchar  what is concerned, by sender and pseudonym
--   site     varchar  the site it belongs to; empty when that cannot be known
--   detail   varchar  what is odd about it
--   rows     integer  rows concerned
--   _file    integer  file of the row, or of the first of them; empty when it is about no row
--   _line    integer  its first physical line in that file
with unknown as (
    select e.sender, e.site, e._file, e._line
    from clean.episodes as e
    anti join settings.sites as s on s.code = e.site
)

select
    'site ' || sender || '/' || site as subject,
    site,
    'not in the settings' as detail,
    cast(count(*) as integer) as rows,
    min(_file) as _file,
    min(_line) filter (where _file = first_file) as _line
from (select *, min(_file) over (partition by sender, site) as first_file from unknown)
group by sender, site
order by subject
