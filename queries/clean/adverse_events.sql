-- makes:   clean.adverse_events
-- reads:   landing.adverse_events, clean.episodes, clean.sessions
-- grain:   one row per event
-- key:     event_key
-- about:   What went wrong or could have, the latest version of each event. Rows whose episode has not
--          arrived wait, and rows withdrawn are gone.
-- columns:
--   event_key         integer  place of the row in byte order of sender and key, from 1
--   episode_key       integer  the episode
--   session_key       integer  the session it is linked to, where that session is known
--   sender            varchar  who sent the row
--   event_id          varchar  pseudonym of the event
--   session_id        varchar  the session it is linked to
--   side              varchar  the side concerned
--   actuality         varchar  whether it happened or could have happened
--   certainty         varchar  how certain it is
--   onset_date        date     date of onset
--   onset_precision   varchar  how exactly the onset is known
--   timing            varchar  when it began, counted from the session
--   aware_date        date     date on which the practice first knew
--   reported_date     date     date on which it was reported
--   detected_by       varchar  who noticed
--   kind              varchar  what happened
--   grade             integer  severity grade, 1-5
--   serious           boolean  whether it was serious; empty is not the same as false
--   serious_criteria  varchar  why it counts as serious
--   expected          boolean  whether it is a known consequence
--   relatedness       varchar  how it relates to the work with the cuff
--   device_involved   boolean  whether the device was involved
--   action            varchar  what was done
--   outcome           varchar  how it ended
--   resolved_date     date     date on which it was over
--   _file             integer  file in which the row stands
--   _line             integer  first physical line of the row in that file
with latest as (
    select *
    from landing.adverse_events
    qualify row_number() over (partition by _sender, _key order by _batch desc, _path desc, _line desc) = 1
)

select
    cast(row_number() over (order by a._sender, a._key) as integer) as event_key,
    e.episode_key,
    s.session_key,
    a._sender as sender,
    a.event_id,
    a.session_id,
    a.side,
    coalesce(a.actuality, 'actual') as actuality,
    a.certainty,
    a.onset_date,
    a.onset_precision,
    a.timing,
    a.aware_date,
    a.reported_date,
    a.detected_by,
    a.kind,
    a.grade,
    a.serious,
    a.serious_criteria,
    a.expected,
    a.relatedness,
    a.device_involved,
    a.action,
    a.outcome,
    a.resolved_date,
    a._file,
    a._line
from latest as a
join clean.episodes as e on e.sender = a._sender and e.episode_id = a.episode_id
left join clean.sessions as s on s.sender = a._sender and s.session_id = a.session_id
where a._action <> 'withdrawal'
order by a._sender, a._key
