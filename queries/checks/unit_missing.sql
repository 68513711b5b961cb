-- makes:   checks.unit_missing
-- reads:   clean.episodes, clean.measurements
-- grain:   one row per sender, site and measure
-- key:     subject
-- severity: note
-- about:   Measurements without a unit. They count as in the measure's own unit.
-- columns:
--   subject  varchar  what is concerned, by sender and pseudonym
--   site     varchar  the site it belongs to; empty when that cannot be known
--   detail   varchar  what is odd about it
--   rows     integer  rows concerned
--   _file    integer  file of the row, or of the first of them; empty when it is about no row
--   _line    integer  its first physical line in that file
with missing as (
    select m.sender, e.site, m.measure, m._file, m._line
    from clean.measurements as m
    join clean.episodes as e on e.episode_key = m.episode_key
    where m.unit_missing
)

select
    'measure ' || sender || '/' || site || ' ' || measure as subject,
    site,
    'no unit given' as detail,
    cast(count(*) as integer) as rows,
    min(_file) as _file,
    min(_line) filter (where _file = first_file) as _line
from (select *, min(_file) over (partition by sender, site, measure) as first_file from missing)
group by sender, site, measure
order by subject
