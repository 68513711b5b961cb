-- makes:   landing.adverse_events
-- reads:   store.adverse_events, store.files, settings.run
-- grain:   one row per row received and accepted up to the batch
-- key:     _file, _line, _key
-- about:   Every version of every row of the export table adverse_events, as received.
-- columns:
--   event_id          varchar  pseudonym of the event
--   episode_id        varchar  the episode
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
--   _sender           varchar  who sent the row
--   _key              varchar  the row's key at its sender
--   _action           varchar  accepted, correction or withdrawal
--   _batch            integer  batch in which it was received
--   _file             integer  file in which it stood
--   _path             varchar  path of that file
--   _line             integer  first physical line of the row in that file
select
    r.event_id,
    r.episode_id,
    r.session_id,
    r.side,
    r.actuality,
    r.certainty,
    r.onset_date,
    r.onset_precision,
    r.timing,
    r.aware_date,
    r.reported_date,
    r.detected_by,
    r.kind,
    r.grade,
    r.serious,
    r.serious_criteria,
    r.expected,
    r.relatedness,
    r.device_involved,
    r.action,
    r.outcome,
    r.resolved_date,
    r._sender,
    r._key,
    r._action,
    r._batch,
    r._file,
    f.path as _path,
    r._line
from store.adverse_events as r
join store.files as f on f.file = r._file
cross join settings.run as run
where r._batch <= run.as_of_batch
