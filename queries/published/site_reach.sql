-- makes:   published.site_reach
-- reads:   derived.data_through, clean.episodes
-- grain:   one row per site of the practice
-- key:     site
-- about:   How far a site's data reach, for the data page of reports and for saying which month is due.
-- columns:
--   site          varchar  the site
--   data_through  date     last day on which the site's people were watched; empty when nothing was received
--   stated        boolean  whether a delivery stated the day
--   first_start   date     first start of care at the site; empty when nobody has begun
with starts as (
    select site, min(start_date) as first_start
    from clean.episodes
    group by site
)

select
    d.site,
    d.data_through,
    d.stated,
    s.first_start
from derived.data_through as d
left join starts as s on s.site = d.site
order by d.site
