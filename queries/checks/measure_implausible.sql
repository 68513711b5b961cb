-- makes:   checks.measure_implausible
-- reads:   clean.episodes, clean.measurements, seeds.measures
-- grain:   one row per measurement
-- key:     subject
-- severity: note
-- about:   Measurements outside the range that is plausible for the measure. They are used as they are.
-- columns:
--   subject  varchar  what is concerned, by sender and pseudonym
--   site     varchar  the site it belongs to; empty when that cannot be known
--   detail   varchar  what is odd about it
--   rows     integer  rows concerned
--   _file    integer  file of the row, or of the first of them; empty when it is about no row
--   _line    integer  its first physical line in that file
select
    'measurement ' || m.sender || '/' || coalesce(m.measurement_id, e.episode_id || ' ' || m.measure || ' ' || m.side || ' ' || m.measured_on || ' ' || m.trial || coalesce(' ' || m.rater_id, '')) as subject,
    e.site,
    m.measure || ' outside ' || c.warn_low || ' to ' || c.warn_high || ' ' || c.unit as detail,
    1 as rows,
    m._file,
    m._line
from clean.measurements as m
join clean.episodes as e on e.episode_key = m.episode_key
join seeds.measures as c on c.code = m.measure
where m.unit = c.unit
  and (m.value < c.warn_low or m.value > c.warn_high)
order by subject
