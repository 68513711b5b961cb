-- makes:   clean.followups
-- reads:   landing.followups, clean.episodes
-- grain:   one row per episode and day of contact or attempt
-- key:     followup_key
-- about:   Contacts made to ask how a person is, the latest version of each. Rows whose episode has not
--          arrived wait, and rows withdrawn are gone.
-- columns:
--   followup_key    integer  place of the row in byte order of sender and key, from 1
--   episode_key     integer  the episode
--   sender          varchar  who sent the row
--   contact_on      date     date of the contact or attempt
--   way             varchar  how contact was sought
--   reached         boolean  whether the person was reached
--   stage           varchar  activity stage on that day
--   symptoms_since  boolean  whether there were symptoms since the last contact
--   _file           integer  file in which the row stands
--   _line           integer  first physical line of the row in that file
with latest as (
    select *
    from landing.followups
    qualify row_number() over (partition by _sender, _key order by _batch desc, _path desc, _line desc) = 1
)

select
    cast(row_number() over (order by f._sender, f._key) as integer) as followup_key,
    e.episode_key,
    f._sender as sender,
    f.contact_on,
    f.way,
    f.reached,
    f.stage,
    f.symptoms_since,
    f._file,
    f._line
from latest as f
join clean.episodes as e on e.sender = f._sender and e.episode_id = f.episode_id
where f._action <> 'withdrawal'
order by f._sender, f._key
