-- makes:   landing.milestones
-- reads:   store.milestones, store.files, settings.run
-- grain:   one row per row received and accepted up to the batch
-- key:     _file, _line, _key
-- about:   Every version of every row of the export table milestones, as received.
-- columns:
--   milestone_id  varchar  pseudonym of the record
--   episode_id    varchar  the episode
--   reached_on    date     date on which the stage was reached or lost
--   stage         varchar  the activity stage
--   change        varchar  whether the stage was reached or lost
--   not_yet_on    date     last day known on which it was not yet reached
--   how_known     varchar  how the practice knows
--   _sender       varchar  who sent the row
--   _key          varchar  the row's key at its sender
--   _action       varchar  accepted, correction or withdrawal
--   _batch        integer  batch in which it was received
--   _file         integer  file in which it stood
--   _path         varchar  path of that file
--   _line         integer  first physical line of the row in that file
select
    r.milestone_id,
    r.episode_id,
    r.reached_on,
    r.stage,
    r.change,
    r.not_yet_on,
    r.how_known,
    r._sender,
    r._key,
    r._action,
    r._batch,
    r._file,
    f.path as _path,
    r._line
from store.milestones as r
join store.files as f on f.file = r._file
cross join settings.run as run
where r._batch <= run.as_of_batch
