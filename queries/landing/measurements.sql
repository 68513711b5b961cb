-- makes:   landing.measurements
-- reads:   store.measurements, store.files, settings.run
-- grain:   one row per row received and accepted up to the batch
-- key:     _file, _line, _key
-- about:   Every version of every row of the export table measurements, as received.
-- columns:
--   measurement_id  varchar        pseudonym of the record
--   episode_id      varchar        the episode
--   measured_on     date           date of measurement
--   measure         varchar        what was measured
--   side            varchar        the side measured
--   value           decimal(14,4)  the value, in the unit given or the measure's own. Its plausible range is the measure's
--   unit            varchar        the unit, UCUM; empty means the measure's own, with a finding
--   trial           integer        number of the trial on that day
--   method          varchar        how it was measured
--   items_missing   integer        items of a score left unanswered
--   rater_id        varchar        pseudonym of who measured
--   _sender         varchar        who sent the row
--   _key            varchar        the row's key at its sender
--   _action         varchar        accepted, correction or withdrawal
--   _batch          integer        batch in which it was received
--   _file           integer        file in which it stood
--   _path           varchar        path of that file
--   _line           integer        first physical line of the row in that file
select
    r.measurement_id,
    r.episode_id,
    r.measured_on,
    r.measure,
    r.side,
    r.value,
    r.unit,
    r.trial,
    r.method,
    r.items_missing,
    r.rater_id,
    r._sender,
    r._key,
    r._action,
    r._batch,
    r._file,
    f.path as _path,
    r._line
from store.measurements as r
join store.files as f on f.file = r._file
cross join settings.run as run
where r._batch <= run.as_of_batch
