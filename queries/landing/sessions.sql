-- makes:   landing.sessions
-- reads:   store.sessions, store.files, settings.run
-- grain:   one row per row received and accepted up to the batch
-- key:     _file, _line, _key
-- about:   Every version of every row of the export table sessions, as received.
-- columns:
--   session_id            varchar        pseudonym of the session
--   episode_id            varchar        the episode
--   session_date          date           date of the session
--   attendance            varchar        what became of the appointment
--   cancelled_by          varchar        who cancelled
--   setting               varchar        where it took place
--   supervised            boolean        whether a clinician was present
--   clinician_id          varchar        pseudonym of the clinician
--   minutes               decimal(14,4)  length of the session
--   systolic_mmhg         integer        systolic blood pressure before
--   diastolic_mmhg        integer        diastolic blood pressure before
--   pain_before           decimal(14,4)  pain before, 0-10
--   pain_after            decimal(14,4)  pain after, 0-10
--   pain_next_day         decimal(14,4)  pain on the next day, 0-10
--   effort                decimal(14,4)  perceived effort, 0-10
--   symptoms_asked        boolean        whether symptoms were asked about: asked and absent is not the same as not asked
--   symptoms_since_asked  boolean        whether symptoms since the last session were asked about
--   stopped_early         boolean        whether the session was stopped early
--   stop_reason           varchar        why it was stopped
--   _sender               varchar        who sent the row
--   _key                  varchar        the row's key at its sender
--   _action               varchar        accepted, correction or withdrawal
--   _batch                integer        batch in which it was received
--   _file                 integer        file in which it stood
--   _path                 varchar        path of that file
--   _line                 integer        first physical line of the row in that file
select
    r.session_id,
    r.episode_id,
    r.session_date,
    r.attendance,
    r.cancelled_by,
    r.setting,
    r.supervised,
    r.clinician_id,
    r.minutes,
    r.systolic_mmhg,
    r.diastolic_mmhg,
    r.pain_before,
    r.pain_after,
    r.pain_next_day,
    r.effort,
    r.symptoms_asked,
    r.symptoms_since_asked,
    r.stopped_early,
    r.stop_reason,
    r._sender,
    r._key,
    r._action,
    r._batch,
    r._file,
    f.path as _path,
    r._line
from store.sessions as r
join store.files as f on f.file = r._file
cross join settings.run as run
where r._batch <= run.as_of_batch
