-- makes:   published.progress_months
-- reads:   clean.bouts, clean.sessions, clean.episodes, derived.data_through, seeds.exercises,
--          settings.progression_rules
-- grain:   one row per episode and calendar month with exercise of the involved side in an attended session
-- key:     episode_key, month
-- about:   How exercises moved from visit to visit, counted by month, so that the cut at a month's end is a sum. A
--          visit is one exercise in one session: its hardest bout, all repetitions together. Each ingredient is set
--          against the last earlier visit of the same exercise that records it; it moved when it differs by what
--          the settings name, a level or a range by any step. The step of a visit is the move of its level; where
--          that stayed or is not known, of its range; else of its load. Cuff cycles without exercise are left out.
-- columns:
--   episode_key        integer  the episode
--   person_key         integer  the person
--   site               varchar  where care is given
--   injury_type        varchar  what was injured
--   start_date         date     first day of care, day 0
--   month              date     first day of the calendar month
--   visits             integer  visits, one for each exercise of each session
--   level_compared     integer  visits whose level could be set against an earlier one
--   level_up           integer  of these, with a higher level
--   level_down         integer  with a lower level
--   range_compared     integer  visits whose range of movement could be compared
--   range_up           integer  of these, with a larger range
--   range_down         integer  with a smaller range
--   load_compared      integer  visits whose external load could be compared
--   load_up            integer  of these, with more load
--   load_down          integer  with less load
--   reps_compared      integer  visits whose repetitions could be compared
--   reps_up            integer  of these, with more repetitions
--   reps_down          integer  with fewer repetitions
--   pressure_compared  integer  visits with the cuff whose share of full occlusion pressure could be compared
--   pressure_up        integer  of these, with a higher pressure
--   pressure_down      integer  with a lower pressure
--   compared           integer  visits whose level, range or load could be compared
--   step_up            integer  of these, with a step up
--   step_back          integer  with a step back
--   after_pain         integer  compared visits within the days of the settings after a painful session
--   back_after_pain    integer  of these, with a step back
--   kept_up            integer  exercises begun below the top of their ladder that were first kept up in this month for the days after which standing still is a stall
--   stalled            integer  of exercises ever kept up so, those that first stood still for as long in this month, below the top
--   first_step_day     integer  first day of the month with a step up of any exercise, whole days since the start of care; empty without one
--   last_day           integer  last day of the month with a visit, likewise
with painful as (
    select session_key
    from clean.sessions
    cross join settings.progression_rules as r
    where greatest(coalesce(pain_after, 0), coalesce(pain_next_day, 0)) >= r.pain_from
    union
    select session_key
    from clean.bouts
    where end_reason = 'pain'
),

sessions as (
    select
        s.session_key,
        cast(s.session_date - e.start_date as integer) as day,
        s.session_date,
        max(case when p.session_key is not null then s.session_date end) over (
            partition by s.episode_key
            order by s.session_date, s.session_key
            rows between unbounded preceding and 1 preceding
        ) as pain_before
    from clean.sessions as s
    join clean.episodes as e on e.episode_key = s.episode_key
    join derived.data_through as t on t.site = e.site
    left join painful as p on p.session_key = s.session_key
    where s.attendance = 'attended'
      and s.session_date between e.start_date and t.data_through
),

-- Numbers in place of texts: rows are put in order by them.
exercises as (
    select
        code,
        levels,
        row_number() over (order by code) as number
    from seeds.exercises
    where class <> 'passive'
),

work as (
    select
        b.session_key,
        b.episode_key,
        x.number as exercise,
        max(x.levels) as levels,
        max(b.level) as level,
        max(case b.movement_range when 'partial' then 0 when 'full' then 1 when 'deficit' then 1 + 1 end) as reach,
        max(b.load_kg) as load_kg,
        case when count(b.reps) = count(*) then cast(sum(b.reps) as integer) end as reps,
        max(b.pressure_percent) as pressure_percent
    from clean.bouts as b
    join clean.episodes as e on e.episode_key = b.episode_key
    join exercises as x on x.code = b.exercise
    where (b.mode is null or b.mode <> 'passive')
      and (e.side = 'bilateral' or b.side in (e.side, 'bilateral'))
    group by b.session_key, b.episode_key, x.number
),

beside as (
    select
        w.*,
        s.day,
        s.session_date,
        s.session_date - s.pain_before as days_after_pain,
        lag(w.level ignore nulls) over earlier as level_before,
        lag(w.reach ignore nulls) over earlier as reach_before,
        lag(w.load_kg ignore nulls) over earlier as load_before,
        lag(w.reps ignore nulls) over earlier as reps_before,
        lag(w.pressure_percent ignore nulls) over earlier as pressure_before
    from work as w
    join sessions as s on s.session_key = w.session_key
    window earlier as (partition by w.episode_key, w.exercise order by s.day, w.session_key)
),

moves as (
    select
        b.*,
        sign(b.level - b.level_before) as level_move,
        sign(b.reach - b.reach_before) as reach_move,
        case
            when 100 * abs(b.load_kg - b.load_before) >= r.load_percent * b.load_before then sign(b.load_kg - b.load_before)
            when b.load_kg is not null and b.load_before is not null then 0
        end as load_move,
        case
            when 100 * abs(b.reps - b.reps_before) >= r.reps_percent * b.reps_before then sign(b.reps - b.reps_before)
            when b.reps is not null and b.reps_before is not null then 0
        end as reps_move,
        case
            when abs(b.pressure_percent - b.pressure_before) >= r.pressure_points then sign(b.pressure_percent - b.pressure_before)
            when b.pressure_percent is not null and b.pressure_before is not null then 0
        end as pressure_move,
        coalesce(b.level, b.level_before) < b.levels as below_top,
        r.after_pain_days
    from beside as b
    cross join settings.progression_rules as r
),

steps as (
    select
        *,
        coalesce(nullif(level_move, 0), nullif(reach_move, 0), nullif(load_move, 0), level_move, reach_move, load_move) as step
    from moves
),

-- The first and last day of each month at one level and load.
states as (
    select
        episode_key,
        exercise,
        level,
        load_kg,
        cast(date_trunc('month', session_date) as date) as month,
        bool_or(below_top) as below_top,
        min(day) as first_day,
        max(day) as last_day
    from steps
    group by episode_key, exercise, level, load_kg, cast(date_trunc('month', session_date) as date)
),

spans as (
    select
        s.episode_key,
        s.exercise,
        s.month,
        s.below_top,
        s.last_day - min(s.first_day) over (partition by s.episode_key, s.exercise) >= r.stall_days as kept_up,
        bool_or(s.below_top) over (partition by s.episode_key, s.exercise) as ever_below_top,
        s.last_day - min(s.first_day) over (partition by s.episode_key, s.exercise, s.level, s.load_kg) >= r.stall_days as unchanged
    from states as s
    cross join settings.progression_rules as r
),

first_months as (
    select
        episode_key,
        min(month) filter (where kept_up and ever_below_top) as kept_up,
        min(month) filter (where unchanged and below_top) as stalled
    from spans
    group by episode_key, exercise
),

stalls as (
    select
        episode_key,
        month,
        count(*) filter (where what = 'kept_up') as kept_up,
        count(*) filter (where what = 'stalled') as stalled
    from first_months
    unpivot (month for what in (kept_up, stalled))
    group by episode_key, month
),

months as (
    select
        episode_key,
        cast(date_trunc('month', session_date) as date) as month,
        count(*) as visits,
        count(level_move) as level_compared,
        count(*) filter (where level_move > 0) as level_up,
        count(*) filter (where level_move < 0) as level_down,
        count(reach_move) as range_compared,
        count(*) filter (where reach_move > 0) as range_up,
        count(*) filter (where reach_move < 0) as range_down,
        count(load_move) as load_compared,
        count(*) filter (where load_move > 0) as load_up,
        count(*) filter (where load_move < 0) as load_down,
        count(reps_move) as reps_compared,
        count(*) filter (where reps_move > 0) as reps_up,
        count(*) filter (where reps_move < 0) as reps_down,
        count(pressure_move) as pressure_compared,
        count(*) filter (where pressure_move > 0) as pressure_up,
        count(*) filter (where pressure_move < 0) as pressure_down,
        count(step) as compared,
        count(*) filter (where step > 0) as step_up,
        count(*) filter (where step < 0) as step_back,
        count(step) filter (where days_after_pain <= after_pain_days) as after_pain,
        count(*) filter (where step < 0 and days_after_pain <= after_pain_days) as back_after_pain,
        min(day) filter (where step > 0) as first_step_day,
        max(day) as last_day
    from steps
    group by episode_key, cast(date_trunc('month', session_date) as date)
)

select
    m.episode_key,
    e.person_key,
    e.site,
    e.injury_type,
    e.start_date,
    m.month,
    cast(m.visits as integer) as visits,
    cast(m.level_compared as integer) as level_compared,
    cast(m.level_up as integer) as level_up,
    cast(m.level_down as integer) as level_down,
    cast(m.range_compared as integer) as range_compared,
    cast(m.range_up as integer) as range_up,
    cast(m.range_down as integer) as range_down,
    cast(m.load_compared as integer) as load_compared,
    cast(m.load_up as integer) as load_up,
    cast(m.load_down as integer) as load_down,
    cast(m.reps_compared as integer) as reps_compared,
    cast(m.reps_up as integer) as reps_up,
    cast(m.reps_down as integer) as reps_down,
    cast(m.pressure_compared as integer) as pressure_compared,
    cast(m.pressure_up as integer) as pressure_up,
    cast(m.pressure_down as integer) as pressure_down,
    cast(m.compared as integer) as compared,
    cast(m.step_up as integer) as step_up,
    cast(m.step_back as integer) as step_back,
    cast(m.after_pain as integer) as after_pain,
    cast(m.back_after_pain as integer) as back_after_pain,
    cast(coalesce(s.kept_up, 0) as integer) as kept_up,
    cast(coalesce(s.stalled, 0) as integer) as stalled,
    m.first_step_day,
    m.last_day
from months as m
join clean.episodes as e on e.episode_key = m.episode_key
left join stalls as s on s.episode_key = m.episode_key and s.month = m.month
order by m.episode_key, m.month
