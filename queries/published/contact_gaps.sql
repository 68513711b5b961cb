-- makes:   published.contact_gaps
-- reads:   clean.episodes, derived.contacts
-- grain:   one row per contact of an episode that another one came before
-- key:     episode_key, day
-- about:   Days between one contact and the next: how closely people are watched, and so how late a return
--          can be recorded.
-- columns:
--   episode_key  integer  the episode
--   person_key   integer  the person
--   site         varchar  where care is given
--   injury_type  varchar  what was injured
--   start_date   date     first day of care, day 0
--   day          integer  day of the later contact
--   gap_days     integer  days since the contact before
select
    c.episode_key,
    e.person_key,
    e.site,
    e.injury_type,
    e.start_date,
    c.day,
    c.days_since as gap_days
from derived.contacts as c
join clean.episodes as e on e.episode_key = c.episode_key
where c.days_since is not null
order by c.episode_key, c.day
