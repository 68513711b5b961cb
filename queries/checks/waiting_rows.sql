-- makes:   checks.waiting_rows
-- reads:   landing.plans, landing.sessions, landing.bouts, landing.measurements, landing.milestones,
--          landing.followups, landing.adverse_events, clean.episodes, clean.sessions
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
with received as (
    select 'plans' as kind, 'episode' as parent, episode_id as parent_id, _sender, _key, _action, _batch, _path, _file, _line
    from landing.plans
    union all
    select 'sessions', 'episode', episode_id, _sender, _key, _action, _batch, _path, _file, _line
    from landing.sessions
    union all
    select 'bouts', 'session', session_id, _sender, _key, _action, _batch, _path, _file, _line
    from landing.bouts
    union all
    select 'measurements', 'episode', episode_id, _sender, _key, _action, _batch, _path, _file, _line
    from landing.measurements
    union all
    select 'milestones', 'episode', episode_id, _sender, _key, _action, _batch, _path, _file, _line
    from landing.milestones
    union all
    select 'followups', 'episode', episode_id, _sender, _key, _action, _batch, _path, _file, _line
    from landing.followups
    union all
    select 'adverse_events', 'episode', episode_id, _sender, _key, _action, _batch, _path, _file, _line
    from landing.adverse_events
),

parents as (
    select 'episode' as parent, sender, episode_id as id from clean.episodes
    union all
    select 'session', sender, session_id from clean.sessions
),

-- Few rows ever wait, so only keys with a version whose parent is absent are ranked.
doubtful as (
    select distinct r.kind, r._sender, r._key
    from received as r
    anti join parents as p on p.parent = r.parent and p.sender = r._sender and p.id = r.parent_id
),

latest as (
    select r.*
    from received as r
    semi join doubtful as d on d.kind = r.kind and d._sender = r._sender and d._key = r._key
    qualify row_number() over (
        partition by r.kind, r._sender, r._key order by r._batch desc, r._path desc, r._line desc
    ) = 1
),

waiting as (
    select l.*
    from latest as l
    anti join parents as p on p.parent = l.parent and p.sender = l._sender and p.id = l.parent_id
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
