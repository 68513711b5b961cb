-- makes:   derived.second_inflated
-- reads:   clean.sessions, clean.bouts
-- grain:   one row per episode with at least two attended sessions with the cuff inflated
-- key:     episode_key
-- about:   The day of the second session with the cuff inflated: from that day on no value is a baseline.
--          As in derived.counted_bouts, a mode without a mark says that it was.
-- columns:
--   episode_key   integer  the episode
--   session_date  date     date of the second such session
with inflated as (
    select distinct s.episode_key, s.session_key, s.session_date
    from clean.sessions as s
    join clean.bouts as b on b.session_key = s.session_key
    where s.attendance = 'attended'
      and (b.cuff_inflated or (b.cuff_inflated is null and b.mode is not null))
),

ordered as (
    select
        episode_key,
        session_date,
        row_number() over (partition by episode_key order by session_date, session_key) as place
    from inflated
)

select episode_key, session_date
from ordered
where place = 1 + 1
order by episode_key
