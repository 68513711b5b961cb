-- makes:   derived._marks
-- reads:   clean.episodes, clean.milestones, derived.data_through, derived.targets, seeds.stages
-- grain:   one row per milestone on the target's ladder, up to the data-through date
-- key:     milestone_key
-- about:   What each milestone says about the target: reaching a stage at or above it reaches it; losing a
--          stage at or below it loses it. Stages of another ladder say nothing about it.
-- columns:
--   milestone_key  integer  the milestone
--   episode_key    integer  the episode
--   day            integer  whole days since the start of care; below 0 before it
--   reaches        boolean  whether it says that the target was reached
--   loses          boolean  whether it says that the target was lost
select
    m.milestone_key,
    m.episode_key,
    cast(m.reached_on - e.start_date as integer) as day,
    m.change = 'reached' and s.rank >= t.rank as reaches,
    m.change = 'lost' and s.rank <= t.rank as loses
from clean.milestones as m
join clean.episodes as e on e.episode_key = m.episode_key
join derived.data_through as d on d.site = e.site
join seeds.stages as s on s.code = m.stage
join derived.targets as t on t.episode_key = m.episode_key and t.ladder = s.ladder
where m.reached_on <= d.data_through
