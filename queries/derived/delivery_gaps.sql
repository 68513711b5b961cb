-- makes:   derived.delivery_gaps
-- reads:   clean.deliveries
-- grain:   one row per span of days that lies between two deliveries of a site and in neither
-- key:     site, gap_from
-- about:   Days for which a site has sent nothing although it has sent for days before and after them: what was
--          done in them is unknown, not nothing.
-- columns:
--   site      varchar  the site
--   gap_from  date     first day of the gap
--   gap_to    date     last day of the gap
with spans as (
    select
        site,
        complete_from,
        max(complete_to) over (
            partition by site
            order by complete_from, complete_to
            rows between unbounded preceding and 1 preceding
        ) as reach
    from clean.deliveries
    where complete_from <= complete_to
)

select
    site,
    reach + 1 as gap_from,
    max(complete_from) - 1 as gap_to
from spans
where complete_from > reach + 1
group by site, reach
order by site, gap_from
