-- makes:   landing.followups
-- reads:   store.followups, store.files, settings.run
-- grain:   one row per row received and accepted up to the batch
-- key:     _file, _line, _key
-- about:   Every version of every row of the export table followups, as received.
-- columns:
--   episode_id      varchar  the episode
--   contact_on      date     date of the contact or attempt
--   way             varchar  how contact was sought
--   reached         boolean  whether the person was reached
--   stage           varchar  activity stage on that day
--   symptoms_since  boolean  whether there were symptoms since the last contact
--   _sender         varchar  who sent the row
--   _key            varchar  the row's key at its sender
--   _action         varchar  accepted, correction or withdrawal
--   _batch          integer  batch in which it was received
--   _file           integer  file in which it stood
--   _path           varchar  path of that file
--   _line           integer  first physical line of the row in that file
select
    r.episode_id,
    r.contact_on,
    r.way,
    r.reached,
    r.stage,
    r.symptoms_since,
    r._sender,
    r._key,
    r._action,
    r._batch,
    r._file,
    f.path as _path,
    r._line
from store.followups as r
join store.files as f on f.file = r._file
cross join settings.run as run
where r._batch <= run.as_of_batch
