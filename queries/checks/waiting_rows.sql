-- makes:   checks.waiting_rows
-- reads:   landing.plans, landing.sessions, landing.bouts, landing.measurements, landing.milestones,
--          landing.followups, landing.adverse_events, clean.plans, clean.sessions, clean.bouts,
--          clean.measurements, clean.milestones, clean.followups, clean.adverse_events
-- grain:   one row per missing episode or session and table that waits for it
-- key:     subject
-- severity: note
-- about:   Rows that wait because the episode or session they belong to has not arrived or was withdrawn.
--          They count as soon as it arrives.
-- columns:
--   subject  varchar  what is concerned, by sender and pseudonym
--   site     varchar  the site it belongs to; empty when that cannot be known
--   detail   varchar  what is odd about it
--   rows     integer  rows concerned
--   _file    integer  file of the row, or of the first of them; empty when it is about no row
--   _line    integer  its first physical line in that file
with latest as (
    select 'plans' as kind, 'episode' as parent, _sender, episode_id as parent_id, _action, _file, _line
    from landing.plans
    qualify row_number() over (partition by _sender, _key order by _batch desc, _path desc, _line desc) = 1
    union all
    select 'sessions' as kind, 'episode' as parent, _sender, episode_id as parent_id, _action, _file, _line
    from landing.sessions
    qualify row_number() over (partition by _sender, _key order by _batch desc, _path desc, _line desc) = 1
    union all
    select 'bouts' as kind, 'session' as parent, _sender, session_id as parent_id, _action, _file, _line
    from landing.bouts
    qualify row_number() over (partition by _sender, _key order by _batch desc, _path desc, _line desc) = 1
    union all
    select 'measurements' as kind, 'episode' as parent, _sender, episode_id as parent_id, _action, _file, _line
    from landing.measurements
    qualify row_number() over (partition by _sender, _key order by _batch desc, _path desc, _line desc) = 1
    union all
    select 'milestones' as kind, 'episode' as parent, _sender, episode_id as parent_id, _action, _file, _line
    from landing.milestones
    qualify row_number() over (partition by _sender, _key order by _batch desc, _path desc, _line desc) = 1
    union all
    select 'followups' as kind, 'episode' as parent, _sender, episode_id as parent_id, _action, _file, _line
    from landing.followups
    qualify row_number() over (partition by _sender, _key order by _batch desc, _path desc, _line desc) = 1
    union all
    select 'adverse_events' as kind, 'episode' as parent, _sender, episode_id as parent_id, _action, _file, _line
    from landing.adverse_events
    qualify row_number() over (partition by _sender, _key order by _batch desc, _path desc, _line desc) = 1
),

kept as (
    select _file, _line from clean.plans
    union all
    select _file, _line from clean.sessions
    union all
    select _file, _line from clean.bouts
    union all
    select _file, _line from clean.measurements
    union all
    select _file, _line from clean.milestones
    union all
    select _file, _line from clean.followups
    union all
    select _file, _line from clean.adverse_events
),

waiting as (
    select l.*
    from latest as l
    anti join kept as k on k._file = l._file and k._line = l._line
    where l._action <> 'withdrawal'
)

select
    kind || ' of ' || parent || ' ' || _sender || '/' || parent_id as subject,
    cast(null as varchar) as site,
    'the ' || parent || ' is not on record' as detail,
    cast(count(*) as integer) as rows,
    min(_file) as _file,
    cast(min(_line) filter (where _file = first_file) as integer) as _line
from (select *, min(_file) over (partition by kind, _sender, parent_id) as first_file from waiting)
group by kind, parent, _sender, parent_id
order by subject
