-- makes:   published.tolerance_months
-- reads:   clean.bouts, clean.sessions, clean.episodes, derived.data_through, seeds.exercises,
--          settings.tolerance_rules
-- grain:   one row per episode, calendar month, exercise and band of pressure
-- key:     episode_key, month, exercise, band
-- about:   How exercises of the involved side were tolerated, counted by month, so that the cut at a month's end is
--          a sum. A bout belongs to the band of its share of full occlusion pressure; without the cuff the band is
--          0. Bouts of which the cuff or the pressure is not on record are left out, and so are cuff cycles
--          without exercise. Pain had risen when it was higher after the session than before it, and settled when
--          it was no higher before the next one, where that came within the days of the settings.
-- columns:
--   episode_key  integer  the episode
--   person_key   integer  the person
--   site         varchar  where care is given
--   injury_type  varchar  what was injured
--   start_date   date     first day of care, day 0
--   month        date     first day of the calendar month
--   exercise     varchar  the exercise
--   band         integer  0 without the cuff; else 1 and the bounds of the settings that the pressure reaches
--   bouts        integer  bouts whose end is on record
--   ended_early  integer  of these, ended for pain or a symptom
--   sessions     integer  sessions with such work after which pain had risen, and whose next visit tells whether it settled
--   settled      integer  of these, with pain settled
with sessions as (
    select
        s.session_key,
        s.session_date,
        case
            when lead(s.session_date) over visits - s.session_date <= r.next_visit_days and s.pain_after > s.pain_before
                then lead(s.pain_before) over visits <= s.pain_before
        end as settled
    from clean.sessions as s
    join clean.episodes as e on e.episode_key = s.episode_key
    join derived.data_through as t on t.site = e.site
    cross join settings.tolerance_rules as r
    where s.attendance = 'attended'
      and s.session_date between e.start_date and t.data_through
    window visits as (partition by s.episode_key order by s.session_date, s.session_key)
),

-- Numbers in place of texts: rows are grouped by them.
exercises as (
    select
        code,
        row_number() over (order by code) as number
    from seeds.exercises
    where class <> 'passive'
),

work as (
    select
        b.episode_key,
        b.session_key,
        x.number as exercise,
        case
            when b.cuff_inflated or (b.cuff_inflated is null and b.mode is not null)
                then 1 + case when b.pressure_percent is not null then len(list_filter(r.pressure_bands, lambda bound: bound <= b.pressure_percent)) end
            when not b.cuff_inflated then 0
        end as band,
        count(b.end_reason) as bouts,
        count(*) filter (where b.end_reason in ('pain', 'symptom')) as ended_early
    from clean.bouts as b
    join clean.episodes as e on e.episode_key = b.episode_key
    join exercises as x on x.code = b.exercise
    cross join settings.tolerance_rules as r
    where (b.mode is null or b.mode <> 'passive')
      and (e.side = 'bilateral' or b.side in (e.side, 'bilateral'))
    group by b.episode_key, b.session_key, x.number, band
),

months as (
    select
        w.episode_key,
        cast(date_trunc('month', s.session_date) as date) as month,
        w.exercise,
        w.band,
        sum(w.bouts) as bouts,
        sum(w.ended_early) as ended_early,
        count(s.settled) as sessions,
        count(*) filter (where s.settled) as settled
    from work as w
    join sessions as s on s.session_key = w.session_key
    where w.band is not null
    group by w.episode_key, cast(date_trunc('month', s.session_date) as date), w.exercise, w.band
)

select
    m.episode_key,
    e.person_key,
    e.site,
    e.injury_type,
    e.start_date,
    m.month,
    x.code as exercise,
    cast(m.band as integer) as band,
    cast(m.bouts as integer) as bouts,
    cast(m.ended_early as integer) as ended_early,
    cast(m.sessions as integer) as sessions,
    cast(m.settled as integer) as settled
from months as m
join clean.episodes as e on e.episode_key = m.episode_key
join exercises as x on x.number = m.exercise
order by m.episode_key, m.month, x.code, m.band
