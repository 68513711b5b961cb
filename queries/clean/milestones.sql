-- makes:   clean.milestones
-- reads:   landing.milestones, clean.episodes
-- grain:   one row per stage reached or lost
-- key:     milestone_key
-- about:   Activity stages reached or lost again, the latest version of each record. Rows whose episode has
--          not arrived wait, and rows withdrawn are gone.
-- columns:
--   milestone_key  integer  place of the row in byte order of sender and key, from 1
--   episode_key    integer  the episode
--   sender         varchar  who sent the row
--   milestone_id   varchar  pseudonym of the record
--   reached_on     date     date on which the stage was reached or lost
--   stage          varchar  the activity stage
--   change         varchar  whether the stage was reached or lost
--   not_yet_on     date     last day known on which it was not yet reached
--   how_known      varchar  how the practice knows
--   _file          integer  file in which the row stands
--   _line          integer  first physical line of the row in that file
with latest as (
    select *
    from landing.milestones
    qualify row_number() over (partition by _sender, _key order by _batch desc, _path desc, _line desc) = 1
)

select
    cast(row_number() over (order by m._sender, m._key) as integer) as milestone_key,
    e.episode_key,
    m._sender as sender,
    m.milestone_id,
    m.reached_on,
    m.stage,
    coalesce(m.change, 'reached') as change,
    m.not_yet_on,
    m.how_known,
    m._file,
    m._line
from latest as m
join clean.episodes as e on e.sender = m._sender and e.episode_id = m.episode_id
where m._action <> 'withdrawal'
order by m._sender, m._key
