-- makes:   landing.plans
-- reads:   store.plans, store.files, settings.run
-- grain:   one row per row received and accepted up to the batch
-- key:     _file, _line, _key
-- about:   Every version of every row of the export table plans, as received.
-- columns:
--   episode_id         varchar        the episode
--   plan_from          date           first day on which the plan holds
--   plan_code          varchar        the named way of treating
--   exercise           varchar        the exercise; empty for the whole plan
--   cuff_inflated      boolean        whether the cuff is to be inflated
--   setting            varchar        where the work is to be done
--   sessions_per_week  decimal(14,4)  sessions intended a week
--   sets               integer        sets intended
--   reps               integer        repetitions intended, all sets together
--   hold_seconds       decimal(14,4)  seconds of each hold intended
--   load_kg            decimal(14,4)  external load intended
--   load_percent_1rm   decimal(14,4)  load intended as a share of the one-repetition maximum
--   pressure_percent   decimal(14,4)  pressure intended as a share of full occlusion pressure
--   _sender            varchar        who sent the row
--   _key               varchar        the row's key at its sender
--   _action            varchar        accepted, correction or withdrawal
--   _batch             integer        batch in which it was received
--   _file              integer        file in which it stood
--   _path              varchar        path of that file
--   _line              integer        first physical line of the row in that file
select
    r.episode_id,
    r.plan_from,
    r.plan_code,
    r.exercise,
    r.cuff_inflated,
    r.setting,
    r.sessions_per_week,
    r.sets,
    r.reps,
    r.hold_seconds,
    r.load_kg,
    r.load_percent_1rm,
    r.pressure_percent,
    r._sender,
    r._key,
    r._action,
    r._batch,
    r._file,
    f.path as _path,
    r._line
from store.plans as r
join store.files as f on f.file = r._file
cross join settings.run as run
where r._batch <= run.as_of_batch
