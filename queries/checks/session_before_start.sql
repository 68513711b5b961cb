-- makes:   checks.session_before_start
-- reads:   clean.episodes, clean.sessions
-- grain:   one row per session
-- key:     subject
-- severity: note
-- about:   Sessions attended before the first day of care. They do not count as contacts.
-- columns:
--   subject  varchar  what is concerned, by sender and pseudonym
--   site     varchar  the site it belongs to; empty when that cannot be known
--   detail   varchar  what is odd about it
--   rows     integer  rows concerned
--   _file    integer  file of the row, or of the first of them; empty when it is about no row
--   _line    integer  its first physical line in that file
select
    'session ' || s.sender || '/' || s.session_id as subject,
    e.site,
    'attended on ' || strftime(s.session_date, '%Y-%m-%d') || ', care began on ' || strftime(e.start_date, '%Y-%m-%d') as detail,
    1 as rows,
    s._file,
    s._line
from clean.sessions as s
join clean.episodes as e on e.episode_key = s.episode_key
where s.attendance = 'attended'
  and s.session_date < e.start_date
order by subject
