-- makes:   derived.reaches
-- reads:   derived._marks
-- grain:   one row per episode and day on which the target or a higher stage was reached
-- key:     episode_key, day
-- about:   Days on which the target was reached, and how long it held. A loss recorded on the very day counts
--          as a loss after 0 days.
-- columns:
--   episode_key  integer  the episode
--   day          integer  whole days since the start of care; below 0 before it
--   lost_after   integer  days until the next loss of the target; empty when none is on record
with reached as (
    select distinct episode_key, day from derived._marks where reaches
)

select
    r.episode_key,
    r.day,
    cast(min(l.day) - r.day as integer) as lost_after
from reached as r
left join derived._marks as l on l.episode_key = r.episode_key and l.loses and l.day >= r.day
group by r.episode_key, r.day
order by r.episode_key, r.day
