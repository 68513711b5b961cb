-- makes:   checks.date_after_batch
-- reads:   clean.episodes, clean.sessions, clean.measurements, clean.milestones, clean.followups,
--          clean.adverse_events, settings.run
-- grain:   one row per date that lies after the day on which the data were received
-- key:     subject
-- severity: attention
-- about:   Dates that lie after the day on which the data were received. Such a day counts neither as a
--          contact nor for how far the data reach. Cancelled appointments may lie ahead.
-- columns:
--   subject  varchar  what is concerned, by sender and pseudonym
--   site     varchar  the site it belongs to; empty when that cannot be known
--   detail   varchar  what is odd about it
--   rows     integer  rows concerned
--   _file    integer  file of the row, or of the first of them; empty when it is about no row
--   _line    integer  its first physical line in that file
with days as (
    select 'episode ' || x.sender || '/' || x.episode_id || ' start_date' as subject, x.site as site, x.start_date as day, x._file, x._line
    from clean.episodes as x
    union all
    select 'episode ' || x.sender || '/' || x.episode_id || ' end_date' as subject, x.site as site, x.end_date as day, x._file, x._line
    from clean.episodes as x
    union all
    select 'episode ' || x.sender || '/' || x.episode_id || ' onset_date' as subject, x.site as site, x.onset_date as day, x._file, x._line
    from clean.episodes as x
    union all
    select 'episode ' || x.sender || '/' || x.episode_id || ' surgery_date' as subject, x.site as site, x.surgery_date as day, x._file, x._line
    from clean.episodes as x
    union all
    select 'episode ' || x.sender || '/' || x.episode_id || ' target_set_on' as subject, x.site as site, x.target_set_on as day, x._file, x._line
    from clean.episodes as x
    union all
    select 'session ' || x.sender || '/' || x.session_id || ' session_date' as subject, e.site as site, x.session_date as day, x._file, x._line
    from clean.sessions as x
    join clean.episodes as e on e.episode_key = x.episode_key
    where x.attendance <> 'cancelled'
    union all
    select 'measurement ' || x.sender || '/' || coalesce(x.measurement_id, e.episode_id || ' ' || x.measure || ' ' || x.side || ' ' || x.measured_on || ' ' || x.trial || coalesce(' ' || x.rater_id, '')) || ' measured_on' as subject, e.site as site, x.measured_on as day, x._file, x._line
    from clean.measurements as x
    join clean.episodes as e on e.episode_key = x.episode_key
    union all
    select 'milestone ' || x.sender || '/' || coalesce(x.milestone_id, e.episode_id || ' ' || x.stage || ' ' || x.change || ' ' || x.reached_on) || ' reached_on' as subject, e.site as site, x.reached_on as day, x._file, x._line
    from clean.milestones as x
    join clean.episodes as e on e.episode_key = x.episode_key
    union all
    select 'follow-up ' || x.sender || '/' || e.episode_id || ' ' || x.contact_on || ' contact_on' as subject, e.site as site, x.contact_on as day, x._file, x._line
    from clean.followups as x
    join clean.episodes as e on e.episode_key = x.episode_key
    union all
    select 'event ' || x.sender || '/' || x.event_id || ' onset_date' as subject, e.site as site, x.onset_date as day, x._file, x._line
    from clean.adverse_events as x
    join clean.episodes as e on e.episode_key = x.episode_key
    union all
    select 'event ' || x.sender || '/' || x.event_id || ' aware_date' as subject, e.site as site, x.aware_date as day, x._file, x._line
    from clean.adverse_events as x
    join clean.episodes as e on e.episode_key = x.episode_key
    union all
    select 'event ' || x.sender || '/' || x.event_id || ' reported_date' as subject, e.site as site, x.reported_date as day, x._file, x._line
    from clean.adverse_events as x
    join clean.episodes as e on e.episode_key = x.episode_key
    union all
    select 'event ' || x.sender || '/' || x.event_id || ' resolved_date' as subject, e.site as site, x.resolved_date as day, x._file, x._line
    from clean.adverse_events as x
    join clean.episodes as e on e.episode_key = x.episode_key
)

select
    d.subject,
    d.site,
    strftime(d.day, '%Y-%m-%d') || ' lies after ' || strftime(run.received_on, '%Y-%m-%d') as detail,
    1 as rows,
    d._file,
    d._line
from days as d
cross join settings.run as run
where d.day > run.received_on
order by d.subject
