-- makes:   derived.contacts
-- reads:   clean.episodes, clean.sessions, clean.measurements, clean.milestones, clean.followups,
--          derived.data_through
-- grain:   one row per episode and day on which the person was seen or heard of
-- key:     episode_key, day
-- about:   Contacts: attended sessions, measurements, milestones and follow-ups that reached the person, from
--          the first day of care to the site's data-through date.
-- columns:
--   episode_key   integer  the episode
--   day           integer  whole days since the start of care
--   days_since    integer  days since the contact before; empty for the first
with days as (
    select episode_key, session_date as day from clean.sessions where attendance = 'attended'
    union
    select episode_key, measured_on from clean.measurements
    union
    select episode_key, reached_on from clean.milestones
    union
    select episode_key, contact_on from clean.followups where reached
),

watched as (
    select e.episode_key, d.day - e.start_date as day
    from days as d
    join clean.episodes as e on e.episode_key = d.episode_key
    join derived.data_through as t on t.site = e.site
    where d.day between e.start_date and t.data_through
)

select
    episode_key,
    cast(day as integer) as day,
    cast(day - lag(day) over (partition by episode_key order by day) as integer) as days_since
from watched
order by episode_key, day
