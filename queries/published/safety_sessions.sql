-- makes:   published.safety_sessions
-- reads:   clean.sessions, clean.episodes, derived.data_through
-- grain:   one row per attended session, up to the day to which its site's data reach
-- key:     session_key
-- about:   What adverse events are counted against. Days are uncut within the site's data; missed and cancelled
--          appointments are no exposure and are left out.
-- columns:
--   session_key     integer  the session
--   episode_key     integer  the episode
--   person_key      integer  the person
--   site            varchar  where care is given
--   injury_type     varchar  what was injured
--   start_date      date     first day of care
--   session_date    date     date of the session
--   symptoms_asked  boolean  whether symptoms were asked about
select
    s.session_key,
    s.episode_key,
    e.person_key,
    e.site,
    e.injury_type,
    e.start_date,
    s.session_date,
    s.symptoms_asked
from clean.sessions as s
join clean.episodes as e on e.episode_key = s.episode_key
join derived.data_through as d on d.site = e.site
where s.attendance = 'attended'
  and s.session_date <= d.data_through
order by s.session_key
