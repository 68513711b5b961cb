-- makes:   derived.data_through
-- reads:   clean.deliveries, clean.episodes, clean.sessions, clean.measurements, clean.milestones,
--          settings.sites, settings.run
-- grain:   one row per site of the practice
-- key:     site
-- about:   The day up to which a site's data reach: what its deliveries state, else its latest session,
--          measurement or milestone. A day after the batch was received does not count.
-- columns:
--   site          varchar  the site
--   data_through  date     last day on which the site's people were watched; empty when nothing was received
--   stated        boolean  whether a delivery stated the day
with stated as (
    select d.site, max(d.complete_to) as day
    from clean.deliveries as d
    cross join settings.run as run
    where d.complete_to <= run.received_on
    group by d.site
),

days as (
    select episode_key, session_date as day from clean.sessions
    union all
    select episode_key, measured_on from clean.measurements
    union all
    select episode_key, reached_on from clean.milestones
),

latest as (
    select e.site, max(d.day) as day
    from days as d
    join clean.episodes as e on e.episode_key = d.episode_key
    cross join settings.run as run
    where d.day <= run.received_on
    group by e.site
)

select
    s.code as site,
    coalesce(stated.day, latest.day) as data_through,
    stated.day is not null as stated
from settings.sites as s
left join stated on stated.site = s.code
left join latest on latest.site = s.code
order by site
