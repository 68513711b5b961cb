-- makes:   checks.goal_met_without_stage
-- reads:   clean.episodes, published.return_episodes
-- grain:   one row per episode
-- key:     subject
-- severity: attention
-- about:   Episodes that ended with the goal met while no held stage at or above the target is on record.
--          They count as watched to the last contact, and as returned in a sensitivity.
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
    'ended as goal met; stage ' || p.target_stage || ' not on record' as detail,
    1 as rows,
    e._file,
    e._line
from published.return_episodes as p
join clean.episodes as e on e.episode_key = p.episode_key
where p.goal_met_day is not null
order by subject
