-- makes:   derived.targets
-- reads:   clean.episodes, clean.episode_targets, seeds.stages, settings.injury_types, settings.return_rules
-- grain:   one row per episode
-- key:     episode_key
-- about:   The target stage an episode is judged by: the one in force on the day that the settings name,
--          counted from the start of care (the latest by the date it was agreed, else the first that came
--          without a date); none then, the first agreed later; none at all, the injury type's default.
-- columns:
--   episode_key   integer  the episode
--   target_stage  varchar  the stage to reach; empty when there is none at all
--   ladder        varchar  the ladder on which it stands
--   rank          integer  its place on that ladder
--   origin        varchar  where it comes from: in_time, undated, late or type_default; empty when there is none
--   set_on        date     the date on which it was agreed, where known
with versions as (
    select
        t.*,
        t.target_set_on <= e.start_date + r.target_by_day as in_time
    from clean.episode_targets as t
    join clean.episodes as e on e.episode_key = t.episode_key
    cross join settings.return_rules as r
),

in_time as (
    select *
    from versions
    where in_time
    qualify row_number() over (partition by episode_key order by target_set_on desc, version desc) = 1
),

undated as (
    select *
    from versions
    where target_set_on is null
    qualify row_number() over (partition by episode_key order by version) = 1
),

late as (
    select *
    from versions
    where not in_time
    qualify row_number() over (partition by episode_key order by target_set_on, version) = 1
),

chosen as (
    select
        e.episode_key,
        coalesce(i.target_stage, u.target_stage, l.target_stage, d.default_target_stage) as target_stage,
        case
            when i.target_stage is not null then 'in_time'
            when u.target_stage is not null then 'undated'
            when l.target_stage is not null then 'late'
            when d.default_target_stage is not null then 'type_default'
        end as origin,
        case
            when i.target_stage is not null then i.target_set_on
            when u.target_stage is null then l.target_set_on
        end as set_on
    from clean.episodes as e
    left join in_time as i on i.episode_key = e.episode_key
    left join undated as u on u.episode_key = e.episode_key
    left join late as l on l.episode_key = e.episode_key
    left join settings.injury_types as d on d.code = e.injury_type
)

select
    c.episode_key,
    c.target_stage,
    s.ladder,
    s.rank,
    c.origin,
    c.set_on
from chosen as c
left join seeds.stages as s on s.code = c.target_stage
order by c.episode_key
