-- makes:   clean.measurements
-- reads:   landing.measurements, clean.episodes, seeds.measures
-- grain:   one row per value measured
-- key:     measurement_key
-- about:   Measured values, the latest version of each. Without a unit the value counts as in the measure's
--          own, and is marked. Rows whose episode has not arrived wait, and rows withdrawn are gone.
-- columns:
--   measurement_key  integer        place of the row in byte order of sender and key, from 1
--   episode_key      integer        the episode
--   sender           varchar        who sent the row
--   measurement_id   varchar        pseudonym of the record
--   measured_on      date           date of measurement
--   measure          varchar        what was measured
--   side             varchar        the side measured
--   value            decimal(14,4)  the value, in the unit given or the measure's own. Its plausible range is the measure's
--   unit             varchar        the unit, UCUM; empty means the measure's own, with a finding
--   unit_missing     boolean        whether no unit was given
--   trial            integer        number of the trial on that day
--   method           varchar        how it was measured
--   items_missing    integer        items of a score left unanswered
--   rater_id         varchar        pseudonym of who measured
--   _file            integer        file in which the row stands
--   _line            integer        first physical line of the row in that file
with again as (
    select _sender, _key
    from landing.measurements
    group by _sender, _key
    having count(*) > 1
),

newest as (
    -- Few rows have an earlier version, so only those are ranked; ranking whole
    -- rows would cost several times as much.
    select v._file, v._line, v._key
    from landing.measurements as v
    anti join again as a on a._sender = v._sender and a._key = v._key
    union all
    (
        select v._file, v._line, v._key
        from landing.measurements as v
        semi join again as a on a._sender = v._sender and a._key = v._key
        qualify row_number() over (
            partition by v._sender, v._key order by v._batch desc, v._path desc, v._line desc
        ) = 1
    )
),

latest as (
    select v.*
    from newest as n
    join landing.measurements as v on v._file = n._file and v._line = n._line and v._key = n._key
)

select
    cast(row_number() over (order by m._sender, m._key) as integer) as measurement_key,
    e.episode_key,
    m._sender as sender,
    m.measurement_id,
    m.measured_on,
    m.measure,
    m.side,
    m.value,
    coalesce(m.unit, c.unit) as unit,
    m.unit is null as unit_missing,
    coalesce(m.trial, 1) as trial,
    m.method,
    m.items_missing,
    m.rater_id,
    m._file,
    m._line
from latest as m
join clean.episodes as e on e.sender = m._sender and e.episode_id = m.episode_id
left join seeds.measures as c on c.code = m.measure
where m._action <> 'withdrawal'
order by m._sender, m._key
