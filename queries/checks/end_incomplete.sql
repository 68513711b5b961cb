-- makes:   checks.end_incomplete
-- reads:   clean.episodes
-- grain:   one row per episode
-- key:     subject
-- severity: note
-- about:   Episodes whose end has a reason but no date, or a date but no reason.
-- columns:
--   subject  varchar  what is concerned, by sender and pseudonym
--   site     varchar  the site it belongs to; empty when that cannot be known
--   detail   varchar  what is odd about it
--   rows     integer  rows concerned
--   _file    integer  file of the row, or of the first of them; empty when it is about no row
--   _line    integer  its first physical line in that file
select
    'episode ' || e.sender || '/' || e.episode_id as subject,
    e.site,
    case when e.end_date is null then 'end without a date' else 'end without a reason' end as detail,
    1 as rows,
    e._file,
    e._line
from clean.episodes as e
where (e.end_date is null) <> (e.end_reason is null)
order by subject
