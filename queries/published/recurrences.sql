-- makes:   published.recurrences
-- reads:   clean.episodes, published.return_episodes
-- grain:   one row per course of care that came to a return
-- key:     episode_key
-- about:   Whether the same person began care anew for the same injury on the same side after the return. A
--          person is known by its id within the sender; without one nothing can be said of what came after.
--          Days are uncut.
-- columns:
--   episode_key   integer  the episode that ended in the return
--   person_key    integer  the person
--   site          varchar  where care is given
--   injury_type   varchar  what was injured
--   start_date    date     first day of care, day 0
--   side          varchar  the involved side
--   person_known  boolean  whether the sender gave the person an id
--   return_day    integer  day of the return
--   follow_days   integer  days from the start of care to the data-through date
--   next_day      integer  first day of the next course of care after the return; empty when none is on record
with starts as (
    select person_key, injury_type, side, start_date
    from clean.episodes
    where person_id is not null
)

select
    r.episode_key,
    r.person_key,
    r.site,
    r.injury_type,
    r.start_date,
    e.side,
    e.person_id is not null as person_known,
    r.return_day,
    r.follow_days,
    cast(min(n.start_date) - r.start_date as integer) as next_day
from published.return_episodes as r
join clean.episodes as e on e.episode_key = r.episode_key
left join starts as n
    on n.person_key = r.person_key
    and e.person_id is not null
    and n.injury_type = r.injury_type
    and n.side = e.side
    and n.start_date > r.start_date + r.return_day
where r.return_day is not null
  and (r.end_day is null or r.return_day <= r.end_day)
group by r.episode_key, r.person_key, r.site, r.injury_type, r.start_date, e.side, e.person_id, r.return_day, r.follow_days
order by r.episode_key
