-- makes:   clean.bouts
-- reads:   landing.bouts, clean.sessions
-- grain:   one row per session and number of the bout
-- key:     bout_key
-- about:   Exercises within sessions, the latest version of each. Without a mark the cuff counts as inflated
--          when a pressure or inflated minutes above 0 stand; without a share of full occlusion pressure it
--          is the pressure applied over the full one. Rows whose session has not arrived wait, and rows
--          withdrawn are gone.
-- columns:
--   bout_key                 integer        place of the row in byte order of sender and key, from 1
--   session_key              integer        the session
--   episode_key              integer        the episode
--   sender                   varchar        who sent the row
--   bout_no                  integer        number of the bout within the session
--   exercise                 varchar        the exercise
--   level                    integer        step on the exercise's ladder
--   movement_range           varchar        range of the movement
--   limb_use                 varchar        how the two limbs shared the work
--   side                     varchar        the side that worked
--   sets                     integer        sets done
--   reps                     integer        repetitions done, all sets together
--   reps_by_set              varchar        repetitions by set, such as 30/15/15/15
--   hold_seconds             decimal(14,4)  seconds of each hold
--   seconds_per_rep          decimal(14,4)  seconds of one repetition
--   load_kg                  decimal(14,4)  external load
--   load_basis               varchar        what the load consists of
--   load_percent_1rm         decimal(14,4)  load as a share of the one-repetition maximum
--   rest_seconds             decimal(14,4)  rest between sets
--   reps_in_reserve          integer        repetitions left before failure in the last set
--   cuff_inflated            boolean        whether the cuff was inflated
--   mode                     varchar        how the pressure was held
--   occlusion_pressure_mmhg  decimal(14,4)  full limb occlusion pressure
--   occlusion_position       varchar        position in which it was measured
--   occlusion_method         varchar        how it was found
--   occlusion_measured_on    date           date on which it was measured
--   applied_pressure_mmhg    decimal(14,4)  pressure applied
--   pressure_percent         decimal(14,4)  pressure applied as a share of full occlusion pressure
--   cuff_width_cm            decimal(14,4)  width of the cuff
--   cuff_code                varchar        the practice's own code of the cuff
--   cycles                   integer        cycles of passive or intermittent pressure
--   inflated_minutes         decimal(14,4)  minutes inflated
--   end_reason               varchar        why the bout ended
--   pain                     decimal(14,4)  pain during the bout, 0-10
--   _file                    integer        file in which the row stands
--   _line                    integer        first physical line of the row in that file
with again as (
    select _sender, _key
    from landing.bouts
    group by _sender, _key
    having count(*) > 1
),

newest as (
    -- Few rows have an earlier version, so only those are ranked; ranking and
    -- numbering whole rows would cost several times as much.
    select b._file, b._line, b._key, b._sender, b._action, b.session_id
    from landing.bouts as b
    anti join again as a on a._sender = b._sender and a._key = b._key
    union all
    (
        select b._file, b._line, b._key, b._sender, b._action, b.session_id
        from landing.bouts as b
        semi join again as a on a._sender = b._sender and a._key = b._key
        qualify row_number() over (
            partition by b._sender, b._key order by b._batch desc, b._path desc, b._line desc
        ) = 1
    )
),

numbered as (
    select
        n._file,
        n._line,
        n._key,
        s.session_key,
        s.episode_key,
        cast(row_number() over (order by n._sender, n._key) as integer) as bout_key
    from newest as n
    join clean.sessions as s on s.sender = n._sender and s.session_id = n.session_id
    where n._action <> 'withdrawal'
)

select
    n.bout_key,
    n.session_key,
    n.episode_key,
    b._sender as sender,
    b.bout_no,
    b.exercise,
    b.level,
    b.movement_range,
    b.limb_use,
    b.side,
    b.sets,
    b.reps,
    b.reps_by_set,
    b.hold_seconds,
    b.seconds_per_rep,
    b.load_kg,
    b.load_basis,
    b.load_percent_1rm,
    b.rest_seconds,
    b.reps_in_reserve,
    coalesce(
        b.cuff_inflated,
        case when b.applied_pressure_mmhg > 0 or b.pressure_percent > 0 or b.inflated_minutes > 0 then true end
    ) as cuff_inflated,
    b.mode,
    b.occlusion_pressure_mmhg,
    b.occlusion_position,
    b.occlusion_method,
    b.occlusion_measured_on,
    b.applied_pressure_mmhg,
    coalesce(
        b.pressure_percent,
        cast(100 * b.applied_pressure_mmhg / nullif(b.occlusion_pressure_mmhg, 0) as decimal(14, 4))
    ) as pressure_percent,
    b.cuff_width_cm,
    b.cuff_code,
    b.cycles,
    b.inflated_minutes,
    b.end_reason,
    b.pain,
    b._file,
    b._line
from numbered as n
join landing.bouts as b on b._file = n._file and b._line = n._line and b._key = n._key
order by n.bout_key
