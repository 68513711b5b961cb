-- makes:   published.return_episodes
-- reads:   clean.episodes, derived.at_start, derived.contacts, derived.data_through, derived.ends,
--          derived.reaches, derived.targets, settings.return_rules
-- grain:   one row per course of care
-- key:     episode_key
-- about:   What the question of return to activity needs of every course of care. All days count from the
--          start of care and are uncut: they reach to the site's data-through date, and whoever asks for a
--          month cuts them there. Return days are empty for those who cannot be used or began at their target.
-- columns:
--   episode_key       integer  the episode
--   person_key        integer  the person
--   site              varchar  where care is given
--   injury_type       varchar  what was injured
--   start_date        date     first day of care, day 0
--   data_through      date     day to which the site's data reach; empty without any
--   follow_days       integer  days from the start of care to it; empty without any
--   unusable          varchar  why the episode cannot be used: no_data, after_data, no_target or end_before_start
--   target_stage      varchar  the stage to reach
--   target_origin     varchar  in_time, undated, late or type_default
--   stage_at_start    varchar  activity stage on the first day of care
--   at_target         boolean  whether care began at or above the target
--   return_day        integer  first day at the target that held; empty without one
--   return_day_short  integer  the same with the shorter hold of the settings
--   return_day_long   integer  the same with the longer hold of the settings
--   provisional       boolean  whether return_day is too young for its hold to have been watched in full
--   end_day           integer  day of the competing end; empty without one
--   end_cause         varchar  surgery, new_injury, not_returning, may_not_continue or died
--   out_day           integer  day up to which the person is watched when neither return nor competing end comes
--   out_reason        varchar  in_care, gap, or the reason of the end on record
--   goal_met_day      integer  day on which care ended as goal met while no held return is on record; else empty
--   last_contact_day  integer  day of the last contact
--   contacts          integer  days with a contact
with returns as (
    select
        r.episode_key,
        min(r.day) filter (where r.lost_after is null or r.lost_after > s.hold_days) as middle,
        min(r.day) filter (where r.lost_after is null or r.lost_after > s.hold_days_short) as short,
        min(r.day) filter (where r.lost_after is null or r.lost_after > s.hold_days_long) as long
    from derived.reaches as r
    cross join settings.return_rules as s
    where r.day >= 0
    group by r.episode_key
),

contacts as (
    select episode_key, count(*) as days
    from derived.contacts
    group by episode_key
),

judged as (
    select
        e.*,
        d.data_through,
        n.follow_days,
        n.end_day,
        n.end_cause,
        n.out_day,
        n.out_reason,
        n.last_contact_day,
        t.target_stage as target,
        t.origin,
        a.at_target,
        case
            when d.data_through is null then 'no_data'
            when e.start_date > d.data_through then 'after_data'
            when t.rank is null then 'no_target'
            when e.end_date < e.start_date then 'end_before_start'
        end as unusable
    from clean.episodes as e
    join derived.ends as n on n.episode_key = e.episode_key
    join derived.targets as t on t.episode_key = e.episode_key
    join derived.at_start as a on a.episode_key = e.episode_key
    left join derived.data_through as d on d.site = e.site
)

select
    j.episode_key,
    j.person_key,
    j.site,
    j.injury_type,
    j.start_date,
    j.data_through,
    j.follow_days,
    j.unusable,
    j.target as target_stage,
    j.origin as target_origin,
    j.stage_at_start,
    j.at_target,
    r.middle as return_day,
    r.short as return_day_short,
    r.long as return_day_long,
    coalesce(j.follow_days - r.middle < s.hold_days, false) as provisional,
    j.end_day,
    j.end_cause,
    j.out_day,
    j.out_reason,
    cast(case
        when j.out_reason = 'goal_met' and j.unusable is null and not j.at_target and r.middle is null
            then least(coalesce(j.end_date - j.start_date, j.last_contact_day), j.follow_days)
    end as integer) as goal_met_day,
    j.last_contact_day,
    cast(coalesce(c.days, 0) as integer) as contacts
from judged as j
cross join settings.return_rules as s
left join returns as r on r.episode_key = j.episode_key and j.unusable is null and not j.at_target
left join contacts as c on c.episode_key = j.episode_key
order by j.episode_key
