-- makes:   derived.at_start
-- reads:   clean.episodes, derived._marks, derived.targets, seeds.stages
-- grain:   one row per episode
-- key:     episode_key
-- about:   Whether the target was reached when care began: by the stage recorded at the start where it stands
--          on the target's ladder, else by the last milestone on or before the first day that says it was
--          reached or lost.
-- columns:
--   episode_key  integer  the episode
--   at_target    boolean  whether the person stood at or above the target
with last_mark as (
    select episode_key, reaches
    from derived._marks
    where day <= 0
      and (reaches or loses)
    qualify row_number() over (partition by episode_key order by day desc, loses desc) = 1
)

select
    t.episode_key,
    coalesce(s.rank >= t.rank, m.reaches, false) as at_target
from derived.targets as t
join clean.episodes as e on e.episode_key = t.episode_key
left join seeds.stages as s on s.code = e.stage_at_start and s.ladder = t.ladder
left join last_mark as m on m.episode_key = t.episode_key
order by t.episode_key
