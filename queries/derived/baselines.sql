-- makes:   derived.baselines
-- reads:   derived.visit_values, derived.second_inflated, clean.episodes, settings.symmetry_rules
-- grain:   one row per episode, measure and side that has a baseline
-- key:     episode_key, measure, side
-- about:   The baseline of a measure: the value nearest to the start of care within the days of the settings,
--          of two equally near the earlier, and from before the day of the second session with the cuff inflated.
-- columns:
--   episode_key  integer  the episode
--   measure      varchar  what was measured
--   side         varchar  left, right, or none where the measure has no side
--   day          integer  whole days since the start of care; below 0 before it
--   value        double   the value, in the measure's unit
--   rater        varchar  who measured; empty when not recorded or more than one
select
    v.episode_key,
    v.measure,
    v.side,
    v.day,
    v.value,
    v.rater
from derived.visit_values as v
join clean.episodes as e on e.episode_key = v.episode_key
cross join settings.symmetry_rules as s
left join derived.second_inflated as i on i.episode_key = v.episode_key
where v.day between -s.baseline_days_before and s.baseline_days_after
  and (i.session_date is null or v.day < i.session_date - e.start_date)
qualify row_number() over (partition by v.episode_key, v.measure, v.side order by abs(v.day), v.day) = 1
order by v.episode_key, v.measure, v.side
