-- makes:   checks.event_order_impossible
-- reads:   clean.adverse_events, clean.episodes
-- grain:   one row per event
-- key:     subject
-- severity: attention
-- about:   Events whose dates stand in an order that cannot be: known before they began, reported before they
--          were known, over before they began. No delay is computed for them.
-- columns:
--   subject  varchar  what is concerned, by sender and pseudonym
--   site     varchar  the site it belongs to; empty when that cannot be known
--   detail   varchar  what is odd about it
--   rows     integer  rows concerned
--   _file    integer  file of the row, or of the first of them; empty when it is about no row
--   _line    integer  its first physical line in that file
with odd as (
    select
        *,
        concat_ws('; ',
            case when onset_precision = 'day' or onset_precision is null then
                case when aware_date < onset_date then 'known before onset' end
            end,
            case when reported_date < aware_date then 'reported before known' end,
            case when resolved_date < onset_date then 'over before onset' end
        ) as detail
    from clean.adverse_events
)

select
    'event ' || a.sender || '/' || a.event_id as subject,
    e.site,
    a.detail,
    1 as rows,
    a._file,
    a._line
from odd as a
join clean.episodes as e on e.episode_key = a.episode_key
where a.detail <> ''
order by subject
