-- makes:   published.stage_stays
-- reads:   clean.milestones, published.return_episodes, seeds.stages
-- grain:   one row per stay on a stage of the target's ladder
-- key:     episode_key, from_day
-- about:   How people move through the stages. The stage of a day is the highest that was reached and not lost
--          since; losing a stage takes it away with all above it, and on one day a loss leads. Milestones of
--          another ladder or after the data-through date say nothing, and neither do those before the first
--          day of care where the stage at the start is recorded. Lost below the ladder, or lost before
--          anything was reached: no stay. Days are uncut.
-- columns:
--   episode_key   integer  the episode
--   person_key    integer  the person
--   site          varchar  where care is given
--   injury_type   varchar  what was injured
--   start_date    date     first day of care, day 0
--   ladder        varchar  the ladder of the target
--   stage         varchar  the stage stood on
--   rank          integer  its place on the ladder
--   below_target  boolean  whether it lies below the target
--   visit         integer  which stay of the episode on this stage, from 1
--   entered       varchar  start (stood on when care began, since an unknown day), reached or lost (from above)
--   from_day      integer  first day on it; below 0 before care
--   to_day        integer  first day on another one; empty when none is on record
--   left_by       varchar  reached (a higher one) or lost; empty when none is on record
--   follow_days   integer  days from the start of care to the data-through date
--   end_day       integer  day of the competing end; empty without one
--   out_day       integer  day up to which the person is watched when nothing else comes
--   out_reason    varchar  in_care, gap, or the reason of the end on record
with climbers as (
    select
        r.*,
        t.ladder,
        t.rank as target_rank,
        s.rank as start_rank
    from published.return_episodes as r
    join seeds.stages as t on t.code = r.target_stage
    left join seeds.stages as s on s.code = r.stage_at_start and s.ladder = t.ladder
    where r.unusable is null
),

marks as (
    select episode_key, 0 as day, start_rank as rank, true as reached
    from climbers
    where start_rank is not null
    union all
    select c.episode_key, m.reached_on - c.start_date, s.rank, m.change = 'reached'
    from clean.milestones as m
    join climbers as c on c.episode_key = m.episode_key
    join seeds.stages as s on s.code = m.stage and s.ladder = c.ladder
    where m.reached_on <= c.data_through
      and (m.reached_on >= c.start_date or c.start_rank is null)
),

days as (
    select distinct episode_key, day from marks
),

kept as (
    select
        d.episode_key,
        d.day,
        r.rank,
        min(l.rank) - 1 as under
    from days as d
    join marks as r on r.episode_key = d.episode_key and r.reached and r.day <= d.day
    left join marks as l on l.episode_key = d.episode_key and not l.reached and l.day between r.day and d.day
    group by d.episode_key, d.day, r.day, r.rank
),

standings as (
    select
        d.episode_key,
        d.day,
        case when max(least(k.rank, coalesce(k.under, k.rank))) >= 0 then max(least(k.rank, coalesce(k.under, k.rank))) end as rank
    from days as d
    left join kept as k on k.episode_key = d.episode_key and k.day = d.day
    group by d.episode_key, d.day
),

changes as (
    select
        episode_key,
        day,
        rank,
        lag(rank) over (partition by episode_key order by day) as rank_before,
        lag(day) over (partition by episode_key order by day) is null as opens
    from standings
    qualify opens or rank is distinct from rank_before
),

stays as (
    select
        *,
        lead(day) over (partition by episode_key order by day) as to_day,
        lead(rank) over (partition by episode_key order by day) as rank_after
    from changes
)

select
    c.episode_key,
    c.person_key,
    c.site,
    c.injury_type,
    c.start_date,
    c.ladder,
    s.code as stage,
    s.rank,
    s.rank < c.target_rank as below_target,
    cast(row_number() over (partition by c.episode_key, s.rank order by y.day) as integer) as visit,
    case
        when y.opens and y.rank = c.start_rank then 'start'
        when coalesce(case when y.opens then c.start_rank else y.rank_before end > y.rank, false) then 'lost'
        else 'reached'
    end as entered,
    cast(y.day as integer) as from_day,
    cast(y.to_day as integer) as to_day,
    case
        when y.to_day is null then null
        when y.rank_after > y.rank then 'reached'
        else 'lost'
    end as left_by,
    c.follow_days,
    c.end_day,
    c.out_day,
    c.out_reason
from stays as y
join climbers as c on c.episode_key = y.episode_key
join seeds.stages as s on s.ladder = c.ladder and s.rank = y.rank
order by c.episode_key, y.day
