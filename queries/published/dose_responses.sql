-- makes:   published.dose_responses
-- reads:   published.side_pairs, published.scores, derived.limb_values, derived.dose_windows, clean.episodes,
--          seeds.measures, settings.symmetry_rules
-- grain:   one row per course of care and measure with a value near the week of change and one at baseline
-- key:     episode_key, measure
-- about:   How alike the two sides were, and how much pain there was, near the week at which change is judged
--          (the nearest day within the weeks of the settings, of two equally near the earlier, from the landmark
--          on), beside the same at baseline: what dose is set against where a measure is the response.
-- columns:
--   episode_key   integer  the episode
--   person_key    integer  the person
--   site          varchar  where care is given
--   injury_type   varchar  what was injured
--   start_date    date     first day of care, day 0
--   kind          varchar  strength, girth or pain
--   measure       varchar  what was measured
--   day           integer  whole days since the start of care
--   value         double   strength: the index in percent; girth: the involved side less the other; pain: as given
--   baseline      double   the same at baseline
with answers as (
    select
        p.episode_key,
        c.kind,
        p.measure,
        p.day,
        case when c.kind = 'girth' then p.involved - p.uninvolved else p.index_percent end as value,
        case
            when c.kind = 'girth' then i.baseline - p.uninvolved_baseline
            when c.better = 'less' then 100 * p.uninvolved_baseline / nullif(i.baseline, 0)
            else 100 * i.baseline / nullif(p.uninvolved_baseline, 0)
        end as baseline
    from published.side_pairs as p
    join seeds.measures as c on c.code = p.measure
    join derived.limb_values as i
        on i.episode_key = p.episode_key and i.measure = p.measure and i.day = p.day and i.limb = 'involved'
    where c.kind in ('strength', 'girth')

    union all

    select
        s.episode_key,
        c.kind,
        s.measure,
        s.day,
        s.value,
        s.baseline
    from published.scores as s
    join seeds.measures as c on c.code = s.measure
    where c.kind = 'pain'
)

select
    e.episode_key,
    e.person_key,
    e.site,
    e.injury_type,
    e.start_date,
    a.kind,
    a.measure,
    a.day,
    a.value,
    a.baseline
from answers as a
join clean.episodes as e on e.episode_key = a.episode_key
join derived.dose_windows as w on w.episode_key = a.episode_key
cross join settings.symmetry_rules as r
where a.value is not null
  and a.baseline is not null
  and a.day >= w.landmark_day
  and abs(a.day - 7 * r.change_week) <= 7 * r.support_weeks
qualify row_number() over (partition by a.episode_key, a.measure order by abs(a.day - 7 * r.change_week), a.day) = 1
order by e.episode_key, a.measure
