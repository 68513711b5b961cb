-- makes:   landing.episodes
-- reads:   store.episodes, store.files, settings.run
-- grain:   one row per row received and accepted up to the batch
-- key:     _file, _line, _key
-- about:   Every version of every row of the export table episodes, as received.
-- columns:
--   episode_id       varchar  pseudonym of the episode, stable at the sender
--   person_id        varchar  pseudonym of the person, stable at the sender
--   site             varchar  where care is given
--   injury_type      varchar  what was injured
--   side             varchar  the involved side
--   worse_side       varchar  the worse side of a bilateral injury
--   recurrence_of    varchar  the earlier episode that this one repeats
--   referred_date    date     date of referral
--   onset_date       date     date of injury or first complaint
--   onset_precision  varchar  how exactly the onset is known
--   surgery_date     date     date of the operation that care follows
--   start_date       date     first day of care; day 0 of the care clock
--   age_band         varchar  age at start, in bands; 90+ at most
--   sex              varchar  sex as recorded
--   dominant_side    varchar  the dominant side
--   activity_level   varchar  usual activity before the injury
--   manual_work      boolean  whether the person's work is manual
--   stage_at_start   varchar  activity stage on the first day of care
--   target_stage     varchar  activity stage that was agreed as the goal
--   target_set_on    date     date on which the goal was agreed
--   severity         varchar  severity as judged at the start
--   screening        varchar  outcome of the screening
--   screened_on      date     date of the screening
--   precautions      varchar  precautions found at screening
--   end_date         date     last day of care
--   end_reason       varchar  why care ended
--   _sender          varchar  who sent the row
--   _key             varchar  the row's key at its sender
--   _action          varchar  accepted, correction or withdrawal
--   _batch           integer  batch in which it was received
--   _file            integer  file in which it stood
--   _path            varchar  path of that file
--   _line            integer  first physical line of the row in that file
select
    r.episode_id,
    r.person_id,
    r.site,
    r.injury_type,
    r.side,
    r.worse_side,
    r.recurrence_of,
    r.referred_date,
    r.onset_date,
    r.onset_precision,
    r.surgery_date,
    r.start_date,
    r.age_band,
    r.sex,
    r.dominant_side,
    r.activity_level,
    r.manual_work,
    r.stage_at_start,
    r.target_stage,
    r.target_set_on,
    r.severity,
    r.screening,
    r.screened_on,
    r.precautions,
    r.end_date,
    r.end_reason,
    r._sender,
    r._key,
    r._action,
    r._batch,
    r._file,
    f.path as _path,
    r._line
from store.episodes as r
join store.files as f on f.file = r._file
cross join settings.run as run
where r._batch <= run.as_of_batch
