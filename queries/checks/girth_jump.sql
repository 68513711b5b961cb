-- makes:   checks.girth_jump
-- reads:   clean.episodes, clean.measurements, seeds.measures
-- grain:   one row per episode, measure, side and day
-- key:     subject
-- severity: note
-- about:   Girths that lie more than 6 cm from the one measured up to 7 days before on the same limb, or that
--          differ from the one before as inches and centimetres do. They are used as they are. A limb that
--          swells can do the first; the limits are a default for the practice to set.
-- columns:
--   subject  varchar  what is concerned, by sender and pseudonym
--   site     varchar  the site it belongs to; empty when that cannot be known
--   detail   varchar  what is odd about it
--   rows     integer  rows concerned
--   _file    integer  file of the row, or of the first of them; empty when it is about no row
--   _line    integer  its first physical line in that file
with days as (
    -- Several trials of a day count as one, by their middle.
    select
        m.episode_key,
        m.sender,
        m.measure,
        m.side,
        m.measured_on,
        cast(median(m.value) as decimal(14, 1)) as value,
        cast(count(*) as integer) as rows,
        min(struct_pack(file := m._file, line := m._line)) as place
    from clean.measurements as m
    join seeds.measures as c on c.code = m.measure and c.unit = m.unit
    where c.kind = 'girth'
    group by all
),

steps as (
    select
        *,
        lag(value) over (partition by episode_key, measure, side order by measured_on) as value_before,
        lag(measured_on) over (partition by episode_key, measure, side order by measured_on) as day_before
    from days
)

select
    'measurement ' || s.sender || '/' || e.episode_id || ' ' || s.measure || ' ' || s.side || ' ' || strftime(s.measured_on, '%Y-%m-%d') as subject,
    e.site,
    s.value || ' cm, and ' || s.value_before || ' cm on ' || strftime(s.day_before, '%Y-%m-%d')
    || case when greatest(s.value, s.value_before) > 2.3 * least(s.value, s.value_before) then ', as inches and centimetres differ' else '' end as detail,
    s.rows,
    s.place.file as _file,
    s.place.line as _line
from steps as s
join clean.episodes as e on e.episode_key = s.episode_key
where (abs(s.value - s.value_before) > 6 and s.measured_on - s.day_before <= 7)
   or (greatest(s.value, s.value_before) between 2.3 * least(s.value, s.value_before) and 2.8 * least(s.value, s.value_before))
order by subject
