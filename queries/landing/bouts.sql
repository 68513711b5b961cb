-- makes:   landing.bouts
-- reads:   store.bouts, store.files, settings.run
-- grain:   one row per row received and accepted up to the batch
-- key:     _file, _line, _key
-- about:   Every version of every row of the export table bouts, as received.
-- columns:
--   session_id               varchar        the session
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
--   _sender                  varchar        who sent the row
--   _key                     varchar        the row's key at its sender
--   _action                  varchar        accepted, correction or withdrawal
--   _batch                   integer        batch in which it was received
--   _file                    integer        file in which it stood
--   _path                    varchar        path of that file
--   _line                    integer        first physical line of the row in that file
select
    r.session_id,
    r.bout_no,
    r.exercise,
    r.level,
    r.movement_range,
    r.limb_use,
    r.side,
    r.sets,
    r.reps,
    r.reps_by_set,
    r.hold_seconds,
    r.seconds_per_rep,
    r.load_kg,
    r.load_basis,
    r.load_percent_1rm,
    r.rest_seconds,
    r.reps_in_reserve,
    r.cuff_inflated,
    r.mode,
    r.occlusion_pressure_mmhg,
    r.occlusion_position,
    r.occlusion_method,
    r.occlusion_measured_on,
    r.applied_pressure_mmhg,
    r.pressure_percent,
    r.cuff_width_cm,
    r.cuff_code,
    r.cycles,
    r.inflated_minutes,
    r.end_reason,
    r.pain,
    r._sender,
    r._key,
    r._action,
    r._batch,
    r._file,
    f.path as _path,
    r._line
from store.bouts as r
join store.files as f on f.file = r._file
cross join settings.run as run
where r._batch <= run.as_of_batch
