-- makes:   published.weekly_doses
-- reads:   clean.episodes, clean.plans, clean.sessions, clean.bouts, derived.counted_bouts, derived.data_through,
--          derived.delivery_gaps, settings.dose_rules
-- grain:   one row per episode and whole week of care that the site's data reach
-- key:     episode_key, week
-- about:   The work with the cuff inflated, week by week, by the rules of derived.dose_windows: an ingredient is
--          what was recorded, times bouts done over bouts that record it within each class of exercise, where
--          the share of bouts that the settings name records it; else it is empty. All are empty in a week that
--          cannot be judged, for the reason given. A week in care without work is zero.
-- columns:
--   episode_key       integer  the episode
--   person_key        integer  the person
--   site              varchar  where care is given
--   injury_type       varchar  what was injured
--   start_date        date     first day of care, day 0
--   week              integer  whole weeks since the start of care, from 0
--   missing_reason    varchar  delivery_gap, home_not_logged or session_without_bouts; empty when the week can be judged
--   sessions          integer  attended sessions; empty when the week cannot be judged, as all of these
--   bouts             integer  bouts that count as dose
--   sets              double   sets with the cuff inflated; empty also when too few bouts record it, as the next three
--   reps              double   repetitions with the cuff inflated
--   inflated_minutes  double   minutes inflated
--   pressure_minutes  double   share of full occlusion pressure x minutes inflated
with weeks as (
    select
        e.episode_key,
        e.person_key,
        e.site,
        e.injury_type,
        e.start_date,
        cast(unnest(range(0, (least(t.data_through, coalesce(e.end_date, t.data_through)) - e.start_date + 1) // 7)) as integer) as week
    from clean.episodes as e
    join derived.data_through as t on t.site = e.site
),

with_bouts as (
    select distinct session_key from clean.bouts
),

attended as (
    select
        e.episode_key,
        (s.session_date - e.start_date) // 7 as week,
        count(*) as sessions,
        count(*) filter (where b.session_key is null) as without_bouts,
        count(*) filter (where s.setting = 'home') as at_home
    from clean.sessions as s
    join clean.episodes as e on e.episode_key = s.episode_key
    left join with_bouts as b on b.session_key = s.session_key
    where s.attendance = 'attended'
      and s.session_date >= e.start_date
    group by e.episode_key, (s.session_date - e.start_date) // 7
),

gaps as (
    select distinct w.episode_key, w.week
    from weeks as w
    join derived.delivery_gaps as g
        on g.site = w.site
        and g.gap_from < w.start_date + 7 * (w.week + 1)
        and g.gap_to >= w.start_date + 7 * w.week
),

plans as (
    select
        episode_key,
        plan_from,
        bool_or(coalesce(setting = 'home', false) and coalesce(cuff_inflated, pressure_percent > 0, false)) as home
    from clean.plans
    group by episode_key, plan_from
),

held as (
    select
        episode_key,
        plan_from,
        home,
        lead(plan_from) over (partition by episode_key order by plan_from) as until
    from plans
),

at_home as (
    select distinct w.episode_key, w.week
    from weeks as w
    join held as h
        on h.episode_key = w.episode_key
        and h.home
        and h.plan_from < w.start_date + 7 * (w.week + 1)
        and (h.until is null or h.until > w.start_date + 7 * w.week)
),

classes as (
    select
        episode_key,
        day // 7 as week,
        class,
        count(*) as bouts,
        count(sets) as with_sets,
        count(reps) as with_reps,
        count(inflated_minutes) as with_minutes,
        count(inflated_minutes * pressure_percent) as with_pressure,
        cast(sum(sets) as double) as sets,
        cast(sum(reps) as double) as reps,
        cast(sum(inflated_minutes) as double) as minutes,
        cast(sum(inflated_minutes * pressure_percent) as double) / 100 as pressure
    from derived.counted_bouts
    group by episode_key, day // 7, class
),

amounts as (
    select
        c.episode_key,
        c.week,
        sum(c.bouts) as bouts,
        case
            when min(c.with_sets) > 0 and 100 * sum(c.with_sets) >= max(r.recorded_percent) * sum(c.bouts)
                then sum(c.sets * c.bouts / nullif(c.with_sets, 0) order by c.class)
        end as sets,
        case
            when min(c.with_reps) > 0 and 100 * sum(c.with_reps) >= max(r.recorded_percent) * sum(c.bouts)
                then sum(c.reps * c.bouts / nullif(c.with_reps, 0) order by c.class)
        end as reps,
        case
            when min(c.with_minutes) > 0 and 100 * sum(c.with_minutes) >= max(r.recorded_percent) * sum(c.bouts)
                then sum(c.minutes * c.bouts / nullif(c.with_minutes, 0) order by c.class)
        end as minutes,
        case
            when min(c.with_pressure) > 0 and 100 * sum(c.with_pressure) >= max(r.recorded_percent) * sum(c.bouts)
                then sum(c.pressure * c.bouts / nullif(c.with_pressure, 0) order by c.class)
        end as pressure
    from classes as c
    cross join settings.dose_rules as r
    group by c.episode_key, c.week
),

judged as (
    select
        w.*,
        case
            when g.episode_key is not null then 'delivery_gap'
            when h.episode_key is not null and coalesce(a.at_home, 0) = 0 then 'home_not_logged'
            when a.without_bouts > 0 then 'session_without_bouts'
        end as missing_reason,
        coalesce(a.sessions, 0) as sessions
    from weeks as w
    left join attended as a on a.episode_key = w.episode_key and a.week = w.week
    left join gaps as g on g.episode_key = w.episode_key and g.week = w.week
    left join at_home as h on h.episode_key = w.episode_key and h.week = w.week
)

select
    j.episode_key,
    j.person_key,
    j.site,
    j.injury_type,
    j.start_date,
    j.week,
    j.missing_reason,
    cast(case when j.missing_reason is null then j.sessions end as integer) as sessions,
    cast(case when j.missing_reason is null then coalesce(m.bouts, 0) end as integer) as bouts,
    case when j.missing_reason is null then case when m.episode_key is null then 0 else m.sets end end as sets,
    case when j.missing_reason is null then case when m.episode_key is null then 0 else m.reps end end as reps,
    case when j.missing_reason is null then case when m.episode_key is null then 0 else m.minutes end end as inflated_minutes,
    case when j.missing_reason is null then case when m.episode_key is null then 0 else m.pressure end end as pressure_minutes
from judged as j
left join amounts as m on m.episode_key = j.episode_key and m.week = j.week
order by j.episode_key, j.week
