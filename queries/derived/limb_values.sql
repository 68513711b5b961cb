-- makes:   derived.limb_values
-- reads:   derived.visit_values, derived.baselines, clean.episodes
-- grain:   one row per episode, measure, limb and day of measuring
-- key:     episode_key, measure, limb, day
-- about:   Values of visits by limb: the involved and the uninvolved side; where both are involved the worse
--          and the other side, if it is recorded which is worse.
-- columns:
--   episode_key    integer  the episode
--   measure        varchar  what was measured
--   limb           varchar  involved, uninvolved, worse or other
--   day            integer  whole days since the start of care; below 0 before it
--   value          double   the value, in the measure's unit
--   rater          varchar  who measured; empty when not recorded or more than one
--   baseline       double   the limb's value at baseline; empty without one
--   baseline_day   integer  its day
--   baseline_rater  varchar  who measured it; empty when not recorded or more than one
select
    v.episode_key,
    v.measure,
    case
        when e.side = 'bilateral' and v.side = e.worse_side then 'worse'
        when e.side = 'bilateral' then 'other'
        when v.side = e.side then 'involved'
        else 'uninvolved'
    end as limb,
    v.day,
    v.value,
    v.rater,
    b.value as baseline,
    b.day as baseline_day,
    b.rater as baseline_rater
from derived.visit_values as v
join clean.episodes as e on e.episode_key = v.episode_key
left join derived.baselines as b on b.episode_key = v.episode_key and b.measure = v.measure and b.side = v.side
where v.side <> 'none'
  and (e.side <> 'bilateral' or e.worse_side is not null)
order by v.episode_key, v.measure, limb, v.day
