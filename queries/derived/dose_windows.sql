-- makes:   derived.dose_windows
-- reads:   clean.episodes, clean.sessions, clean.bouts, derived.counted_bouts, derived.data_through,
--          derived.delivery_gaps, derived.planned_sets, settings.injury_types, settings.dose_rules
-- grain:   one row per episode
-- key:     episode_key
-- about:   The work of the window from day 0 to the day before the landmark. An ingredient is what was recorded,
--          times bouts done over bouts that record it within each class of exercise, where the share of bouts
--          that the settings name records it; else it is empty. All are empty where the window cannot be
--          judged, for the reason given. No counted bout in a window that can be judged is a dose of zero.
-- columns:
--   episode_key       integer  the episode
--   landmark_day      integer  day on which the response begins to count
--   missing_reason    varchar  window_open, delivery_gap, home_not_logged or session_without_bouts; empty when it can be judged
--   sessions          integer  attended sessions; empty when the window cannot be judged
--   bouts             integer  counted bouts; empty likewise
--   sets              double   sets with the cuff inflated
--   reps              double   repetitions with the cuff inflated
--   inflated_minutes  double   minutes inflated
--   pressure_minutes  double   share of full occlusion pressure x minutes inflated
with windows as (
    select
        e.episode_key,
        e.site,
        e.start_date,
        i.landmark_days as landmark_day,
        coalesce(t.data_through - e.start_date >= i.landmark_days - 1, false) as closed
    from clean.episodes as e
    join settings.injury_types as i on i.code = e.injury_type
    left join derived.data_through as t on t.site = e.site
),

with_bouts as (
    select distinct session_key from clean.bouts
),

attended as (
    select
        w.episode_key,
        count(*) as sessions,
        count(*) filter (where b.session_key is null) as without_bouts,
        count(*) filter (where s.setting = 'home') as at_home
    from windows as w
    join clean.sessions as s on s.episode_key = w.episode_key
    left join with_bouts as b on b.session_key = s.session_key
    where s.attendance = 'attended'
      and s.session_date - w.start_date between 0 and w.landmark_day - 1
    group by w.episode_key
),

gaps as (
    select distinct w.episode_key
    from windows as w
    join derived.delivery_gaps as g
        on g.site = w.site and g.gap_from < w.start_date + w.landmark_day and g.gap_to >= w.start_date
),

classes as (
    select
        b.episode_key,
        b.class,
        count(*) as bouts,
        count(b.sets) as with_sets,
        count(b.reps) as with_reps,
        count(b.inflated_minutes) as with_minutes,
        count(b.inflated_minutes * b.pressure_percent) as with_pressure,
        cast(sum(b.sets) as double) as sets,
        cast(sum(b.reps) as double) as reps,
        cast(sum(b.inflated_minutes) as double) as minutes,
        cast(sum(b.inflated_minutes * b.pressure_percent) as double) / 100 as pressure
    from derived.counted_bouts as b
    join windows as w on w.episode_key = b.episode_key
    where b.day < w.landmark_day
    group by b.episode_key, b.class
),

amounts as (
    select
        c.episode_key,
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
    group by c.episode_key
),

judged as (
    select
        w.episode_key,
        w.landmark_day,
        case
            when not w.closed then 'window_open'
            when g.episode_key is not null then 'delivery_gap'
            when coalesce(p.home, false) and coalesce(a.at_home, 0) = 0 then 'home_not_logged'
            when a.without_bouts > 0 then 'session_without_bouts'
        end as missing_reason,
        coalesce(a.sessions, 0) as sessions
    from windows as w
    left join attended as a on a.episode_key = w.episode_key
    left join gaps as g on g.episode_key = w.episode_key
    left join derived.planned_sets as p on p.episode_key = w.episode_key
)

select
    j.episode_key,
    j.landmark_day,
    j.missing_reason,
    cast(case when j.missing_reason is null then j.sessions end as integer) as sessions,
    cast(case when j.missing_reason is null then coalesce(m.bouts, 0) end as integer) as bouts,
    case when j.missing_reason is null then case when m.episode_key is null then 0 else m.sets end end as sets,
    case when j.missing_reason is null then case when m.episode_key is null then 0 else m.reps end end as reps,
    case when j.missing_reason is null then case when m.episode_key is null then 0 else m.minutes end end as inflated_minutes,
    case when j.missing_reason is null then case when m.episode_key is null then 0 else m.pressure end end as pressure_minutes
from judged as j
left join amounts as m on m.episode_key = j.episode_key
order by j.episode_key
