-- makes:   derived.visit_values
-- reads:   clean.measurements, clean.episodes, derived.data_through, seeds.measures
-- grain:   one row per episode, measure, side and day of measuring
-- key:     episode_key, measure, side, day
-- about:   The value of a visit: the mean of its trials, for hops and endurance the best. Values in another
--          unit than the measure's, after the data-through date, or of an episode that ends before it starts
--          are left out.
-- columns:
--   episode_key  integer  the episode
--   measure      varchar  what was measured
--   side         varchar  left, right, or none where the measure has no side
--   day          integer  whole days since the start of care; below 0 before it
--   value        double   the value, in the measure's unit
--   trials       integer  values it was made from
--   rater        varchar  who measured; empty when not recorded or more than one
select
    m.episode_key,
    m.measure,
    m.side,
    cast(m.measured_on - e.start_date as integer) as day,
    case
        when c.kind in ('hop', 'endurance') and c.better = 'less' then cast(min(m.value) as double)
        when c.kind in ('hop', 'endurance') then cast(max(m.value) as double)
        else cast(sum(m.value) as double) / count(*)
    end as value,
    cast(count(*) as integer) as trials,
    case when count(m.rater_id) = count(*) and min(m.rater_id) = max(m.rater_id) then min(m.rater_id) end as rater
from clean.measurements as m
join clean.episodes as e on e.episode_key = m.episode_key
join derived.data_through as t on t.site = e.site
join seeds.measures as c on c.code = m.measure
where m.measured_on <= t.data_through
  and m.unit = c.unit
  and (e.end_date is null or e.end_date >= e.start_date)
group by m.episode_key, m.measure, m.side, m.measured_on, e.start_date, c.kind, c.better
order by m.episode_key, m.measure, m.side, day
