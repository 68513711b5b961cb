-- makes:   published.safety_events
-- reads:   clean.adverse_events, clean.episodes, derived.data_through, published.safety_sessions
-- grain:   one row per event
-- key:     event_key
-- about:   What went wrong or could have, with its clocks. An event counts when it happened and was not ruled
--          out. Delays are empty where a date is missing or two stand in an order that cannot be. Days are uncut.
-- columns:
--   event_key               integer  the event
--   episode_key             integer  the episode
--   person_key              integer  the person
--   site                    varchar  where care is given
--   injury_type             varchar  what was injured
--   start_date              date     first day of care
--   onset_date              date     date of onset
--   watched                 boolean  whether the site's data reach to the onset
--   kind                    varchar  what happened
--   potential               boolean  whether it could have happened and did not
--   ruled_out               boolean  whether it was ruled out
--   counts                  boolean  whether it happened and was not ruled out
--   certainty               varchar  suspected, confirmed or ruled_out; empty when not recorded
--   serious                 boolean  whether it was serious; empty when not recorded, which is not false
--   session_key             integer  the attended session of its episode that it is linked to; empty without one
--   session_date            date     date of that session
--   session_asked           boolean  whether symptoms were asked about in it
--   aware_date              date     date on which the practice first knew
--   reported_date           date     date on which it was reported; empty while it is not
--   order_impossible        boolean  whether it was known before a dated onset, or reported before it was known
--   onset_to_aware_days     integer  days from onset to first known; empty also where the onset is not known to the day
--   aware_to_reported_days  integer  days from first known to reported
with dated as (
    select
        *,
        coalesce(onset_precision, 'day') = 'day' as to_the_day,
        coalesce(coalesce(onset_precision, 'day') = 'day' and aware_date < onset_date, false)
        or coalesce(reported_date < aware_date, false) as order_impossible
    from clean.adverse_events
)

select
    a.event_key,
    a.episode_key,
    e.person_key,
    e.site,
    e.injury_type,
    e.start_date,
    a.onset_date,
    coalesce(a.onset_date <= d.data_through, false) as watched,
    a.kind,
    a.actuality = 'potential' as potential,
    coalesce(a.certainty = 'ruled_out', false) as ruled_out,
    a.actuality <> 'potential' and coalesce(a.certainty <> 'ruled_out', true) as counts,
    a.certainty,
    a.serious,
    s.session_key,
    s.session_date,
    s.symptoms_asked as session_asked,
    a.aware_date,
    a.reported_date,
    a.order_impossible,
    cast(case when a.to_the_day and not a.order_impossible then a.aware_date - a.onset_date end as integer) as onset_to_aware_days,
    cast(case when not a.order_impossible then a.reported_date - a.aware_date end as integer) as aware_to_reported_days
from dated as a
join clean.episodes as e on e.episode_key = a.episode_key
left join derived.data_through as d on d.site = e.site
left join published.safety_sessions as s on s.session_key = a.session_key and s.episode_key = a.episode_key
order by a.event_key
