-- makes:   published.side_pairs
-- reads:   derived.limb_values, clean.episodes, seeds.measures, settings.symmetry_rules
-- grain:   one row per episode, measure and visit at which the involved side was measured and the other is known
-- key:     episode_key, measure, day
-- about:   The involved side beside the uninvolved one: its value of the same day, else the nearest within the
--          days of the settings, of two equally near the earlier; one value may serve two visits. Where both
--          sides are involved there is no pair. Days are uncut.
-- columns:
--   episode_key          integer  the episode
--   person_key           integer  the person
--   site                 varchar  where care is given
--   injury_type          varchar  what was injured
--   start_date           date     first day of care, day 0
--   severity             varchar  severity as judged at the start; empty when not recorded
--   measure              varchar  what was measured
--   day                  integer  day on which the involved side was measured; below 0 before care
--   involved             double   value of the involved side, in the measure's unit
--   uninvolved           double   value of the uninvolved side
--   uninvolved_day       integer  day on which that was measured
--   uninvolved_baseline  double   value of the uninvolved side at baseline; empty without one
--   index_percent        double   100 x involved / uninvolved, inverted where less is better; empty where it divides by 0
--   baseline_percent     double   the same against the uninvolved side at baseline; empty without one
--   same_rater           boolean  whether one rater, on record, measured both sides
select
    i.episode_key,
    e.person_key,
    e.site,
    e.injury_type,
    e.start_date,
    e.severity,
    i.measure,
    i.day,
    i.value as involved,
    u.value as uninvolved,
    u.day as uninvolved_day,
    u.baseline as uninvolved_baseline,
    case
        when c.better = 'less' then 100 * u.value / nullif(i.value, 0)
        else 100 * i.value / nullif(u.value, 0)
    end as index_percent,
    case
        when c.better = 'less' then 100 * u.baseline / nullif(i.value, 0)
        else 100 * i.value / nullif(u.baseline, 0)
    end as baseline_percent,
    coalesce(i.rater = u.rater, false) as same_rater
from derived.limb_values as i
join clean.episodes as e on e.episode_key = i.episode_key
join seeds.measures as c on c.code = i.measure
cross join settings.symmetry_rules as s
join derived.limb_values as u
    on u.episode_key = i.episode_key and u.measure = i.measure and u.limb = 'uninvolved' and abs(u.day - i.day) <= s.pair_days
where i.limb = 'involved'
qualify row_number() over (partition by i.episode_key, i.measure, i.day order by abs(u.day - i.day), u.day) = 1
order by i.episode_key, i.measure, i.day
