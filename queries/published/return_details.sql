-- makes:   published.return_details
-- reads:   clean.episodes, clean.milestones, derived._marks, derived.contacts, published.return_episodes
-- grain:   one row per course of care
-- key:     episode_key
-- about:   What stands beside the question of return: by what people are told apart, how long before care the
--          injury or the operation lay, and when it was last known that a return had not come yet: the day that
--          the milestone states, else the last contact before it.
-- columns:
--   episode_key  integer  the episode
--   person_key   integer  the person
--   site         varchar  where care is given
--   injury_type  varchar  what was injured
--   start_date   date     first day of care, day 0
--   severity     varchar  severity as judged at the start
--   sex          varchar  sex as recorded
--   age_band     varchar  age at start, in bands
--   clock_from   varchar  surgery, else onset: where the injury clock begins; empty when neither is known
--   clock_day    integer  days from there to the start of care
--   return_day   integer  first day at the target that held; empty without one
--   not_yet_day  integer  last day of care before it on which it was known not to have come; empty when none is
with stated as (
    select
        k.episode_key,
        k.day,
        max(m.not_yet_on) as not_yet_on
    from derived._marks as k
    join clean.milestones as m on m.milestone_key = k.milestone_key
    where k.reaches
    group by k.episode_key, k.day
),

seen as (
    select r.episode_key, max(c.day) as day
    from published.return_episodes as r
    join derived.contacts as c on c.episode_key = r.episode_key and c.day < r.return_day
    group by r.episode_key
),

clocks as (
    select
        episode_key,
        case
            when surgery_date <= start_date then 'surgery'
            when onset_date <= start_date and coalesce(onset_precision, 'day') <> 'unknown' then 'onset'
        end as clock_from
    from clean.episodes
)

select
    r.episode_key,
    r.person_key,
    r.site,
    r.injury_type,
    r.start_date,
    e.severity,
    e.sex,
    e.age_band,
    k.clock_from,
    cast(e.start_date - case k.clock_from when 'surgery' then e.surgery_date when 'onset' then e.onset_date end as integer) as clock_day,
    r.return_day,
    cast(case
        when r.return_day is null then null
        when s.not_yet_on < r.start_date + r.return_day then greatest(s.not_yet_on - r.start_date, 0)
        else c.day
    end as integer) as not_yet_day
from published.return_episodes as r
join clean.episodes as e on e.episode_key = r.episode_key
join clocks as k on k.episode_key = r.episode_key
left join stated as s on s.episode_key = r.episode_key and s.day = r.return_day
left join seen as c on c.episode_key = r.episode_key
order by r.episode_key
