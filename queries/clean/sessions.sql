-- makes:   clean.sessions
-- reads:   landing.sessions, clean.episodes
-- grain:   one row per session
-- key:     session_key
-- about:   Appointments and rounds of home work, the latest version of each. Rows whose episode has not
--          arrived wait, and rows withdrawn are gone.
-- columns:
--   session_key           integer        place of the row in byte order of sender and key, from 1
--   episode_key           integer        the episode
--   sender                varchar        who sent the row
--   session_id            varchar        pseudonym of the session
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
--   _file                 integer        file in which the row stands
--   _line                 integer        first physical line of the row in that file
with newest as (
    -- Ranking whole rows would cost several times as much.
    select _file, _line, _key
    from landing.sessions
    qualify row_number() over (partition by _sender, _key order by _batch desc, _path desc, _line desc) = 1
),

latest as (
    select v.*
    from newest as n
    join landing.sessions as v on v._file = n._file and v._line = n._line and v._key = n._key
)

select
    cast(row_number() over (order by s._sender, s._key) as integer) as session_key,
    e.episode_key,
    s._sender as sender,
    s.session_id,
    s.session_date,
    s.attendance,
    s.cancelled_by,
    s.setting,
    s.supervised,
    s.clinician_id,
    s.minutes,
    s.systolic_mmhg,
    s.diastolic_mmhg,
    s.pain_before,
    s.pain_after,
    s.pain_next_day,
    s.effort,
    coalesce(s.symptoms_asked, false) as symptoms_asked,
    coalesce(s.symptoms_since_asked, false) as symptoms_since_asked,
    s.stopped_early,
    s.stop_reason,
    s._file,
    s._line
from latest as s
join clean.episodes as e on e.sender = s._sender and e.episode_id = s.episode_id
where s._action <> 'withdrawal'
order by s._sender, s._key
