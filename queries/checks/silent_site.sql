-- makes:   checks.silent_site
-- reads:   derived.data_through, settings.run, settings.report
-- grain:   one row per site
-- key:     subject
-- severity: attention
-- about:   Sites whose data reach less far than the settings allow for. Nobody there is watched past that
--          day.
-- columns:
--   subject  varchar  what is concerned, by sender and pseudonym
--   site     varchar  the site it belongs to; empty when that cannot be known
--   detail   varchar  what is odd about it
--   rows     integer  rows concerned
--   _file    integer  file of the row, or of the first of them; empty when it is about no row
--   _line    integer  its first physical line in that file
select
    'site ' || d.site as subject,
    d.site,
    coalesce('data reach to ' || strftime(d.data_through, '%Y-%m-%d'), 'nothing received yet') as detail,
    0 as rows,
    cast(null as integer) as _file,
    cast(null as integer) as _line
from derived.data_through as d
cross join settings.run as run
cross join settings.report as report
where d.data_through is null
   or run.received_on - d.data_through > report.silent_after_days
order by subject
