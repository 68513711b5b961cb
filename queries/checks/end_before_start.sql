-- makes:   checks.end_before_start
-- reads:   clean.episodes
-- grain:   one row per episode
-- key:     subject
-- severity: attention
-- about:   Episodes that end before they begin. They cannot be used.
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
    'ended on ' || strftime(e.end_date, '%Y-%m-%d') || ', began on ' || strftime(e.start_date, '%Y-%m-%d') as detail,
    1 as rows,
    e._file,
    e._line
from clean.episodes as e
where e.end_date < e.start_date
order by subject
