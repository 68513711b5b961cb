-- makes:   published.symmetry_episodes
-- reads:   clean.episodes, published.return_episodes
-- grain:   one row per course of care
-- key:     episode_key
-- about:   What the question of symmetry needs of every course of care, measured or not: whom a curve is
--          averaged over, and when they returned.
-- columns:
--   episode_key  integer  the episode
--   person_key   integer  the person
--   site         varchar  where care is given
--   injury_type  varchar  what was injured
--   start_date   date     first day of care, day 0
--   bilateral    boolean  whether both sides are involved
--   severity     varchar  severity as judged at the start; empty when not recorded
--   return_day   integer  day of the recorded, held return; empty without one
select
    e.episode_key,
    e.person_key,
    e.site,
    e.injury_type,
    e.start_date,
    e.side = 'bilateral' as bilateral,
    e.severity,
    r.return_day
from clean.episodes as e
join published.return_episodes as r on r.episode_key = e.episode_key
order by e.episode_key
