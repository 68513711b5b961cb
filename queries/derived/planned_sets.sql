-- makes:   derived.planned_sets
-- reads:   clean.plans, clean.episodes, settings.injury_types
-- grain:   one row per episode with a plan in force in its window
-- key:     episode_key
-- about:   Sets with the cuff inflated that were intended for the window before the landmark. A plan holds until
--          the next one of its episode; sets stand at its exercises, else at the plan as a whole. Empty where a
--          plan with the cuff says no sets or no sessions a week: what was intended is then not known.
-- columns:
--   episode_key   integer  the episode
--   planned_sets  double   sets intended from day 0 to the day before the landmark
--   home          boolean  whether work with the cuff at home was intended in the window
with spans as (
    select
        p.episode_key,
        p.plan_from,
        lead(p.plan_from) over (partition by p.episode_key order by p.plan_from) as until
    from (select distinct episode_key, plan_from from clean.plans) as p
),

held as (
    select
        s.episode_key,
        s.plan_from,
        least(e.start_date + i.landmark_days, coalesce(s.until, e.start_date + i.landmark_days))
        - greatest(s.plan_from, e.start_date) as days
    from spans as s
    join clean.episodes as e on e.episode_key = s.episode_key
    join settings.injury_types as i on i.code = e.injury_type
),

inflated as (
    select
        p.episode_key,
        p.plan_from,
        p.exercise,
        p.sets,
        coalesce(p.sessions_per_week, max(p.sessions_per_week) filter (where p.exercise is null) over (
            partition by p.episode_key, p.plan_from
        )) as sessions_per_week,
        p.setting,
        coalesce(p.cuff_inflated, p.pressure_percent > 0, false) as with_cuff
    from clean.plans as p
),

weekly as (
    select
        episode_key,
        plan_from,
        count(*) filter (where exercise is not null) as exercises,
        count(*) filter (where exercise is not null and (sets is null or sessions_per_week is null)) as unclear,
        sum(sets * sessions_per_week) filter (where exercise is not null) as of_exercises,
        max(sets * sessions_per_week) filter (where exercise is null) as of_whole,
        bool_or(coalesce(setting = 'home', false)) as home
    from inflated
    where with_cuff
    group by episode_key, plan_from
),

parts as (
    select
        h.episode_key,
        h.days,
        w.plan_from is null as without_cuff,
        case when w.exercises = 0 then w.of_whole when w.unclear = 0 then w.of_exercises end as sets_per_week,
        coalesce(w.home, false) as home
    from held as h
    left join weekly as w on w.episode_key = h.episode_key and w.plan_from = h.plan_from
    where h.days > 0
)

select
    episode_key,
    case
        when count(*) filter (where not without_cuff and sets_per_week is null) = 0
            then cast(coalesce(sum(sets_per_week * days), 0) as double) / 7
    end as planned_sets,
    bool_or(home) as home
from parts
group by episode_key
order by episode_key
