-- makes:   published.dose_records
-- reads:   clean.episodes, clean.bouts, derived.counted_bouts, derived.dose_windows
-- grain:   one row per course of care with a bout that counts as dose before the landmark
-- key:     episode_key
-- about:   How the dose of the window was recorded: what it had to be filled in for, and what of it was
--          estimated or had no load to weigh.
-- columns:
--   episode_key   integer  the episode
--   person_key    integer  the person
--   site          varchar  where care is given
--   injury_type   varchar  what was injured
--   start_date    date     first day of care, day 0
--   bouts         integer  bouts that count as dose before the landmark
--   without_sets  integer  of these, without sets on record, for which the others stand
--   with_method   integer  of these, with a way of finding the full occlusion pressure on record
--   estimated     integer  of those, with the pressure estimated
--   with_basis    integer  of these, with the kind of load on record
--   body_weight   integer  of those, against body weight, with or without more
select
    e.episode_key,
    e.person_key,
    e.site,
    e.injury_type,
    e.start_date,
    cast(count(*) as integer) as bouts,
    cast(count(*) filter (where c.sets is null) as integer) as without_sets,
    cast(count(b.occlusion_method) as integer) as with_method,
    cast(count(*) filter (where b.occlusion_method = 'estimated') as integer) as estimated,
    cast(count(b.load_basis) as integer) as with_basis,
    cast(count(*) filter (where b.load_basis in ('body_weight', 'body_weight_plus')) as integer) as body_weight
from derived.counted_bouts as c
join clean.bouts as b on b.bout_key = c.bout_key
join clean.episodes as e on e.episode_key = c.episode_key
join derived.dose_windows as w on w.episode_key = c.episode_key
where c.day < w.landmark_day
group by e.episode_key, e.person_key, e.site, e.injury_type, e.start_date
order by e.episode_key
