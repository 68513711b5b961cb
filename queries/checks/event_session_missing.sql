-- makes:   checks.event_session_missing
-- reads:   clean.adverse_events, clean.episodes
-- grain:   one row per event
-- key:     subject
-- severity: note
-- about:   Events linked to a session that is not on record. They count, but not as linked.
-- columns:
--   subject  varchar  what is concerned, by sender and pseudonym
--   site     varchar  the site it belongs to; empty when that cannot be known
--   detail   varchar  what is odd about it
--   rows     integer  rows concerned
--   _file    integer  file of the row, or of the first of them; empty when it is about no row
--   _line    integer  its first physical line in that file
select
    'event ' || a.sender || '/' || a.event_id as subject,
    e.site,
    'session ' || a.session_id || ' is not on record' as detail,
    1 as rows,
    a._file,
    a._line
from clean.adverse_events as a
join clean.episodes as e on e.episode_key = a.episode_key
where a.session_id is not null
  and a.session_key is null
order by subject
