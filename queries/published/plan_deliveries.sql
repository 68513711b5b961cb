-- makes:   published.plan_deliveries
-- reads:   clean.episodes, clean.plans, clean.bouts, derived.counted_bouts, derived.dose_windows, derived.planned_sets
-- grain:   one row per episode
-- key:     episode_key
-- about:   What plans intended for the window before the landmark, and what was done in it. A plan holds until the
--          next one of its episode. Sessions a week stand at the plan as a whole, else the most of its exercises.
--          Pressure and minutes are of the bouts with the cuff whose exercise the plan in force names: the pressure
--          it intends against the one applied, and the time that the intended work takes against the minutes
--          inflated. That time is the intended repetitions, each as long as the intended hold, else as a repetition
--          of the bout, and in continuous mode the rests between the intended sets as long as the bout's.
-- columns:
--   episode_key        integer        the episode
--   person_key         integer        the person
--   site               varchar        where care is given
--   injury_type        varchar        what was injured
--   start_date         date           first day of care, day 0
--   planned_sessions   double         sessions intended for the window; empty when not known
--   sessions           integer        sessions attended in it; empty when the window cannot be judged
--   planned_sets       double         sets with the cuff intended for it; empty when not known
--   sets               double         sets with the cuff done in it; empty when not known
--   pressure_bouts     integer        bouts whose pressure could be set against the plan's
--   planned_pressure   decimal(14,4)  pressure intended for them, shares of full occlusion pressure summed
--   applied_pressure   decimal(14,4)  pressure applied in them, summed
--   timed_bouts        integer        bouts whose minutes could be set against the time that the intended work takes
--   planned_seconds    decimal(14,4)  that time, seconds summed
--   inflated_minutes   decimal(14,4)  minutes inflated in them, summed
with plans as (
    select
        episode_key,
        plan_from,
        coalesce(max(sessions_per_week) filter (where exercise is null), max(sessions_per_week)) as sessions_per_week,
        max(pressure_percent) filter (where exercise is null) as pressure_percent
    from clean.plans
    group by episode_key, plan_from
),

spans as (
    select
        *,
        lead(plan_from) over (partition by episode_key order by plan_from) as until
    from plans
),

intended as (
    select
        e.episode_key,
        case
            when count(*) = count(s.sessions_per_week) then cast(sum(s.sessions_per_week * (
                least(e.start_date + d.landmark_day, coalesce(s.until, e.start_date + d.landmark_day)) - greatest(s.plan_from, e.start_date)
            )) as double) / 7
        end as sessions
    from spans as s
    join clean.episodes as e on e.episode_key = s.episode_key
    join derived.dose_windows as d on d.episode_key = s.episode_key
    where s.plan_from < e.start_date + d.landmark_day
      and (s.until is null or s.until > e.start_date)
    group by e.episode_key
),

bouts as (
    select
        c.episode_key,
        c.pressure_percent as applied_pressure,
        coalesce(p.pressure_percent, s.pressure_percent) as planned_pressure,
        c.inflated_minutes,
        p.reps * coalesce(p.hold_seconds, b.seconds_per_rep)
        + case b.mode when 'continuous' then (p.sets - 1) * b.rest_seconds when 'intermittent' then 0 end as planned_seconds
    from derived.counted_bouts as c
    join derived.dose_windows as d on d.episode_key = c.episode_key and c.day < d.landmark_day
    join clean.bouts as b on b.bout_key = c.bout_key
    join clean.episodes as e on e.episode_key = c.episode_key
    join spans as s
        on s.episode_key = c.episode_key
        and s.plan_from <= e.start_date + c.day
        and (s.until is null or s.until > e.start_date + c.day)
    join clean.plans as p on p.episode_key = s.episode_key and p.plan_from = s.plan_from and p.exercise = b.exercise
),

done as (
    select
        episode_key,
        count(applied_pressure + planned_pressure) as pressure_bouts,
        sum(planned_pressure) filter (where applied_pressure is not null) as planned_pressure,
        sum(applied_pressure) filter (where planned_pressure is not null) as applied_pressure,
        count(inflated_minutes + planned_seconds) as timed_bouts,
        sum(planned_seconds) filter (where inflated_minutes is not null) as planned_seconds,
        sum(inflated_minutes) filter (where planned_seconds is not null) as inflated_minutes
    from bouts
    group by episode_key
)

select
    e.episode_key,
    e.person_key,
    e.site,
    e.injury_type,
    e.start_date,
    i.sessions as planned_sessions,
    d.sessions,
    p.planned_sets,
    d.sets,
    cast(coalesce(b.pressure_bouts, 0) as integer) as pressure_bouts,
    cast(b.planned_pressure as decimal(14, 4)) as planned_pressure,
    cast(b.applied_pressure as decimal(14, 4)) as applied_pressure,
    cast(coalesce(b.timed_bouts, 0) as integer) as timed_bouts,
    cast(b.planned_seconds as decimal(14, 4)) as planned_seconds,
    cast(b.inflated_minutes as decimal(14, 4)) as inflated_minutes
from clean.episodes as e
join derived.dose_windows as d on d.episode_key = e.episode_key
left join intended as i on i.episode_key = e.episode_key
left join derived.planned_sets as p on p.episode_key = e.episode_key
left join done as b on b.episode_key = e.episode_key
order by e.episode_key
