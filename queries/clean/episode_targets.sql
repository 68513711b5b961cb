-- makes:   clean.episode_targets
-- reads:   landing.episodes, clean.episodes
-- grain:   one row per episode and version of it that names a target stage
-- key:     episode_key, version
-- about:   Every target stage that was ever on record for an episode, in the order in which the versions came.
-- columns:
--   episode_key    integer  the episode
--   version        integer  place of the version among those of the episode that name a target, from 1
--   target_stage   varchar  activity stage that was agreed as the goal
--   target_set_on  date     date on which the goal was agreed
--   _file          integer  file in which the version stands
--   _line          integer  first physical line of the row in that file
select
    e.episode_key,
    cast(row_number() over (
        partition by e.episode_key order by v._batch, v._path, v._line
    ) as integer) as version,
    v.target_stage,
    v.target_set_on,
    v._file,
    v._line
from landing.episodes as v
join clean.episodes as e on e.sender = v._sender and e.episode_id = v.episode_id
where v._action <> 'withdrawal'
  and v.target_stage is not null
order by e.episode_key, version
