-- makes:   derived.counted_bouts
-- reads:   clean.bouts, clean.sessions, clean.episodes, derived.data_through, seeds.exercises
-- grain:   one row per exercise bout with the cuff inflated, in an attended session in care
-- key:     bout_key
-- about:   The work that counts as dose: exercise of the involved side, or of both, with the cuff inflated
--          continuously or intermittently. Cuff cycles without exercise are none of it. A missing ingredient is
--          empty, never zero; of a bout without a side nobody knows whose work it was, and all are empty.
-- columns:
--   bout_key          integer        the bout
--   session_key       integer        its session
--   episode_key       integer        the episode
--   day               integer        whole days since the start of care
--   class             varchar        class of the exercise
--   sets              integer        sets done
--   reps              integer        repetitions done, all sets together
--   inflated_minutes  decimal(14,4)  minutes inflated
--   pressure_percent  decimal(14,4)  pressure applied as a share of full occlusion pressure
with judged as (
    select
        b.*,
        cast(s.session_date - e.start_date as integer) as day,
        coalesce(x.class, b.exercise) as class,
        e.side = 'bilateral' or b.side is not null as side_known
    from clean.bouts as b
    join clean.sessions as s on s.session_key = b.session_key
    join clean.episodes as e on e.episode_key = s.episode_key
    join derived.data_through as t on t.site = e.site
    left join seeds.exercises as x on x.code = b.exercise
    where s.attendance = 'attended'
      and s.session_date between e.start_date and t.data_through
      and (b.cuff_inflated or (b.cuff_inflated is null and b.mode is not null))
      and (b.mode is null or b.mode <> 'passive')
      and (e.side = 'bilateral' or b.side is null or b.side in (e.side, 'bilateral'))
)

select
    bout_key,
    session_key,
    episode_key,
    day,
    class,
    case when side_known then sets end as sets,
    case when side_known then reps end as reps,
    case when side_known then inflated_minutes end as inflated_minutes,
    case when side_known then pressure_percent end as pressure_percent
from judged
where class <> 'passive'
order by bout_key
