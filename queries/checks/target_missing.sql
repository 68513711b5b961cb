-- makes:   checks.target_missing
-- reads:   clean.episodes, derived.targets
-- grain:   one row per episode
-- key:     subject
-- severity: note
-- about:   Episodes for which no target stage was ever recorded. The injury type's default is used.
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
    case when t.target_stage is null then 'no target and no default' else 'judged by the default ' || t.target_stage end as detail,
    1 as rows,
    e._file,
    e._line
from derived.targets as t
join clean.episodes as e on e.episode_key = t.episode_key
where coalesce(t.origin, 'type_default') = 'type_default'
order by subject
