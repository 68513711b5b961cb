-- makes:   clean.deliveries
-- reads:   landing.deliveries
-- grain:   one row per statement of a delivery
-- key:     _file, _line
-- about:   What deliveries state about the span in which they are complete.
-- columns:
--   site           varchar  the site
--   complete_from  date     first day on which the data are complete
--   complete_to    date     last day on which they are complete
--   sender         varchar  who sent the statement
--   _file          integer  file in which it stood
--   _line          integer  its line in that file
select
    site,
    complete_from,
    complete_to,
    _sender as sender,
    _file,
    _line
from landing.deliveries
order by site, complete_to, _file, _line
