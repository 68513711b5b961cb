-- makes:   published.dose_episodes
-- reads:   clean.episodes, derived.dose_windows, derived.planned_sets, published.return_episodes
-- grain:   one row per course of care
-- key:     episode_key
-- about:   What the question of dose and response needs of every course of care: the work with the cuff inflated
--          before the landmark, and what became of the person, as in published.return_episodes. Days are uncut.
-- columns:
--   episode_key       integer  the episode
--   person_key        integer  the person
--   site              varchar  where care is given
--   injury_type       varchar  what was injured
--   start_date        date     first day of care, day 0
--   severity          varchar  severity as judged at the start; empty when not recorded
--   landmark_day      integer  day on which the response begins to count; the dose is of the days before it
--   missing_reason    varchar  window_open, delivery_gap, home_not_logged or session_without_bouts; empty when the window can be judged
--   sessions          integer  attended sessions of the window; empty when it cannot be judged, as all of these
--   bouts             integer  bouts that count as dose
--   sets              double   sets with the cuff inflated; empty also when too few bouts record it, as the next three
--   reps              double   repetitions with the cuff inflated
--   inflated_minutes  double   minutes inflated
--   pressure_minutes  double   share of full occlusion pressure x minutes inflated
--   planned_sets      double   sets with the cuff that were intended for the window; empty when not known
--   follow_days       integer  days from the start of care to the site's data-through date; empty without any
--   unusable          varchar  why the episode cannot be used; empty when it can
--   at_target         boolean  whether care began at or above the target
--   return_day        integer  first day at the target that held; empty without one
--   provisional       boolean  whether return_day is too young for its hold to have been watched in full
--   end_day           integer  day of the competing end; empty without one
--   out_day           integer  day up to which the person is watched when neither return nor competing end comes
--   out_reason        varchar  in_care, gap, or the reason of the end on record
select
    e.episode_key,
    e.person_key,
    e.site,
    e.injury_type,
    e.start_date,
    e.severity,
    d.landmark_day,
    d.missing_reason,
    d.sessions,
    d.bouts,
    d.sets,
    d.reps,
    d.inflated_minutes,
    d.pressure_minutes,
    p.planned_sets,
    r.follow_days,
    r.unusable,
    r.at_target,
    r.return_day,
    r.provisional,
    r.end_day,
    r.out_day,
    r.out_reason
from clean.episodes as e
join derived.dose_windows as d on d.episode_key = e.episode_key
join published.return_episodes as r on r.episode_key = e.episode_key
left join derived.planned_sets as p on p.episode_key = e.episode_key
order by e.episode_key
