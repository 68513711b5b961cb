-- makes:   clean.plans
-- reads:   landing.plans, clean.episodes
-- grain:   one row per episode, day from which a plan holds, and exercise
-- key:     plan_key
-- about:   What was intended, the latest version of each plan. Rows whose episode has not arrived wait, and
--          rows withdrawn are gone.
-- columns:
--   plan_key           integer        place of the row in byte order of sender and key, from 1
--   episode_key        integer        the episode
--   sender             varchar        who sent the row
--   plan_from          date           first day on which the plan holds
--   plan_code          varchar        the named way of treating
--   exercise           varchar        the exercise; empty for the whole plan
--   cuff_inflated      boolean        whether the cuff is to be inflated
--   setting            varchar        where the work is to be done
--   sessions_per_week  decimal(14,4)  sessions intended a week
--   sets               integer        sets intended
--   reps               integer        repetitions intended, all sets together
--   hold_seconds       decimal(14,4)  seconds of each hold intended
--   load_kg            decimal(14,4)  external load intended
--   load_percent_1rm   decimal(14,4)  load intended as a share of the one-repetition maximum
--   pressure_percent   decimal(14,4)  pressure intended as a share of full occlusion pressure
--   _file              integer        file in which the row stands
--   _line              integer        first physical line of the row in that file
with latest as (
    select *
    from landing.plans
    qualify row_number() over (partition by _sender, _key order by _batch desc, _path desc, _line desc) = 1
)

select
    cast(row_number() over (order by p._sender, p._key) as integer) as plan_key,
    e.episode_key,
    p._sender as sender,
    p.plan_from,
    p.plan_code,
    p.exercise,
    p.cuff_inflated,
    p.setting,
    p.sessions_per_week,
    p.sets,
    p.reps,
    p.hold_seconds,
    p.load_kg,
    p.load_percent_1rm,
    p.pressure_percent,
    p._file,
    p._line
from latest as p
join clean.episodes as e on e.sender = p._sender and e.episode_id = p.episode_id
where p._action <> 'withdrawal'
order by p._sender, p._key
