-- makes:   clean.episodes
-- reads:   landing.episodes
-- grain:   one row per course of care
-- key:     episode_key
-- about:   Courses of care, the latest version of each; those withdrawn are gone. A person is a person_id
--          within its sender; without one every episode counts as a person of its own.
-- columns:
--   episode_key      integer  place of the episode in byte order of sender and id, from 1
--   person_key       integer  place of the person in byte order of sender and id, from 1; those without an id last
--   sender           varchar  who sent the row
--   episode_id       varchar  pseudonym of the episode, stable at the sender
--   person_id        varchar  pseudonym of the person, stable at the sender
--   site             varchar  where care is given
--   injury_type      varchar  what was injured
--   side             varchar  the involved side
--   worse_side       varchar  the worse side of a bilateral injury
--   recurrence_of    varchar  the earlier episode that this one repeats
--   referred_date    date     date of referral
--   onset_date       date     date of injury or first complaint
--   onset_precision  varchar  how exactly the onset is known
--   surgery_date     date     date of the operation that care follows
--   start_date       date     first day of care; day 0 of the care clock
--   age_band         varchar  age at start, in bands; 90+ at most
--   sex              varchar  sex as recorded
--   dominant_side    varchar  the dominant side
--   activity_level   varchar  usual activity before the injury
--   manual_work      boolean  whether the person's work is manual
--   stage_at_start   varchar  activity stage on the first day of care
--   target_stage     varchar  activity stage that was agreed as the goal
--   target_set_on    date     date on which the goal was agreed
--   severity         varchar  severity as judged at the start
--   screening        varchar  outcome of the screening
--   screened_on      date     date of the screening
--   precautions      varchar  precautions found at screening
--   end_date         date     last day of care
--   end_reason       varchar  why care ended
--   _file            integer  file in which the row stands
--   _line            integer  first physical line of the row in that file
with latest as (
    select *
    from landing.episodes
    qualify row_number() over (partition by _sender, _key order by _batch desc, _path desc, _line desc) = 1
)

select
    cast(row_number() over (order by _sender, _key) as integer) as episode_key,
    cast(dense_rank() over (
        order by _sender, person_id is null, coalesce(person_id, episode_id)
    ) as integer) as person_key,
    _sender as sender,
    episode_id,
    person_id,
    site,
    injury_type,
    side,
    worse_side,
    recurrence_of,
    referred_date,
    onset_date,
    onset_precision,
    surgery_date,
    start_date,
    age_band,
    sex,
    dominant_side,
    activity_level,
    manual_work,
    stage_at_start,
    target_stage,
    target_set_on,
    severity,
    screening,
    screened_on,
    precautions,
    end_date,
    end_reason,
    _file,
    _line
from latest
where _action <> 'withdrawal'
order by _sender, _key
