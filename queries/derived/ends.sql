-- makes:   derived.ends
-- reads:   clean.episodes, derived.contacts, derived.data_through, settings.injury_types
-- grain:   one row per episode
-- key:     episode_key
-- about:   How the watching of an episode ends when no return comes first. Competing ends are surgery after
--          the start, a new injury, a decision against returning, an order not to continue, and death; without
--          a date they count on the day of the last contact, and dated after the data-through date they have
--          not happened yet: until then the person is in care. With any other end on record the person is
--          watched to the last contact; so is someone without contact for longer than the injury type's gap.
--          All others are in care, and watched to the data-through date.
-- columns:
--   episode_key       integer  the episode
--   follow_days       integer  days from the start of care to the data-through date; empty without one
--   last_contact_day  integer  day of the last contact; 0 when there is none
--   end_day           integer  day of the competing end, where there is one
--   end_cause         varchar  surgery, new_injury, not_returning, may_not_continue or died
--   out_day           integer  day up to which the person is watched when nothing competes
--   out_reason        varchar  in_care, gap, or the reason of the end on record (not_recorded when it is missing)
with facts as (
    select
        e.episode_key,
        t.data_through - e.start_date as follow_days,
        coalesce(max(c.day), 0) as last_contact_day,
        e.end_date - e.start_date as recorded_end_day,
        coalesce(e.end_reason in ('surgery', 'new_injury', 'not_returning', 'may_not_continue', 'died'), false)
        and not coalesce(e.end_reason = 'surgery' and e.end_date <= e.start_date, false) as competes,
        case
            when e.end_reason is not null then e.end_reason
            when e.end_date is not null then 'not_recorded'
        end as end_reason,
        case when e.surgery_date > e.start_date then e.surgery_date - e.start_date end as surgery_day,
        g.contact_gap_days
    from clean.episodes as e
    left join derived.data_through as t on t.site = e.site
    left join derived.contacts as c on c.episode_key = e.episode_key
    left join settings.injury_types as g on g.code = e.injury_type
    group by all
),

competing as (
    select
        episode_key,
        coalesce(recorded_end_day, last_contact_day) as day,
        end_reason as cause
    from facts
    where competes
    union all
    select episode_key, surgery_day, 'surgery'
    from facts
    where surgery_day is not null
),

first_competing as (
    select c.episode_key, c.day, c.cause
    from competing as c
    join facts as f on f.episode_key = c.episode_key
    where c.day <= f.follow_days
    qualify row_number() over (partition by c.episode_key order by c.day, c.cause) = 1
),

reasons as (
    select
        *,
        case
            when competes then 'in_care'
            when end_reason is not null then end_reason
            when follow_days - last_contact_day <= contact_gap_days then 'in_care'
            else 'gap'
        end as out_reason
    from facts
)

select
    r.episode_key,
    cast(r.follow_days as integer) as follow_days,
    cast(r.last_contact_day as integer) as last_contact_day,
    cast(c.day as integer) as end_day,
    c.cause as end_cause,
    cast(case when r.out_reason = 'in_care' then r.follow_days else r.last_contact_day end as integer) as out_day,
    r.out_reason
from reasons as r
left join first_competing as c on c.episode_key = r.episode_key
order by r.episode_key
