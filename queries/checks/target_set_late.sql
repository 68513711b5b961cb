-- makes:   checks.target_set_late
-- reads:   clean.episodes, derived.targets
-- grain:   one row per episode
-- key:     subject
-- severity: note
-- about:   Episodes whose target stage was first agreed after the day by which the settings want it. The
--          first one agreed is used.
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
    'target agreed on ' || strftime(t.set_on, '%Y-%m-%d') || ', care began on ' || strftime(e.start_date, '%Y-%m-%d') as detail,
    1 as rows,
    e._file,
    e._line
from derived.targets as t
join clean.episodes as e on e.episode_key = t.episode_key
where t.origin = 'late'
order by subject
