-- makes:   published.bilateral_changes
-- reads:   derived.limb_values, clean.episodes
-- grain:   one row per episode with both sides involved, measure, limb and visit that a baseline stands before
-- key:     episode_key, measure, limb, day
-- about:   How each limb changed from its own baseline where both sides are involved and no side can serve as
--          the measure of the other. Without a record of which side is worse there is no row. Days are uncut.
-- columns:
--   episode_key    integer  the episode
--   person_key     integer  the person
--   site           varchar  where care is given
--   injury_type    varchar  what was injured
--   start_date     date     first day of care, day 0
--   measure        varchar  what was measured
--   limb           varchar  worse or other
--   day            integer  day on which the limb was measured
--   baseline_day   integer  day of its baseline; below 0 before care
--   value          double   value of the visit, in the measure's unit
--   baseline       double   value at baseline
--   same_rater     boolean  whether one rater, on record, measured both
select
    v.episode_key,
    e.person_key,
    e.site,
    e.injury_type,
    e.start_date,
    v.measure,
    v.limb,
    v.day,
    v.baseline_day,
    v.value,
    v.baseline,
    coalesce(v.rater = v.baseline_rater, false) as same_rater
from derived.limb_values as v
join clean.episodes as e on e.episode_key = v.episode_key
where v.limb in ('worse', 'other')
  and v.day > v.baseline_day
order by v.episode_key, v.measure, v.limb, v.day
