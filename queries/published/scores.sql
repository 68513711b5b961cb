-- makes:   published.scores
-- reads:   clean.episodes, clean.measurements, derived.visit_values, derived.baselines, seeds.measures
-- grain:   one row per episode, measure of pain or patient-reported score, and day of answering
-- key:     episode_key, measure, day
-- about:   Pain and scores as they were given, each on its own scale and beside its baseline; versions of a score
--          are measures of their own and never mixed. Days are uncut.
-- columns:
--   episode_key    integer  the episode
--   person_key     integer  the person
--   site           varchar  where care is given
--   injury_type    varchar  what was injured
--   start_date     date     first day of care, day 0
--   measure        varchar  which pain measure or score
--   day            integer  whole days since the start of care; below 0 before it
--   value          double   the value, on the measure's own scale
--   items_missing  integer  items left out by the person, the most of the day's answers; empty when not recorded
--   at_best        boolean  whether it stands at the best end of the scale, from where nothing better can be told
--   baseline       double   the value at baseline; empty without one
--   baseline_day   integer  its day
with answers as (
    select
        m.episode_key,
        m.measure,
        m.side,
        m.measured_on,
        max(m.items_missing) as items_missing
    from clean.measurements as m
    group by m.episode_key, m.measure, m.side, m.measured_on
)

select
    v.episode_key,
    e.person_key,
    e.site,
    e.injury_type,
    e.start_date,
    v.measure,
    v.day,
    v.value,
    cast(a.items_missing as integer) as items_missing,
    case when c.better = 'less' then v.value <= c.reject_low else v.value >= c.reject_high end as at_best,
    b.value as baseline,
    b.day as baseline_day
from derived.visit_values as v
join seeds.measures as c on c.code = v.measure
join clean.episodes as e on e.episode_key = v.episode_key
left join answers as a
    on a.episode_key = v.episode_key and a.measure = v.measure and a.side = v.side and a.measured_on = e.start_date + v.day
left join derived.baselines as b on b.episode_key = v.episode_key and b.measure = v.measure and b.side = v.side
where c.kind in ('pain', 'score')
  and v.side = 'none'
order by v.episode_key, v.measure, v.day
