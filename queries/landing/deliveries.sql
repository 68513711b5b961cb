-- makes:   landing.deliveries
-- reads:   store.deliveries, settings.run
-- grain:   one row per statement of a delivery, up to the batch
-- key:     _file, _line
-- about:   What deliveries state about the span in which they are complete.
-- columns:
--   site           varchar  the site
--   complete_from  date     first day on which the data are complete
--   complete_to    date     last day on which they are complete
--   _sender        varchar  who sent the statement
--   _batch         integer  batch in which it was received
--   _file          integer  file in which it stood
--   _line          integer  its line in that file
select
    d.site,
    d.complete_from,
    d.complete_to,
    d.sender as _sender,
    d.batch as _batch,
    d.file as _file,
    d.line as _line
from store.deliveries as d
cross join settings.run as run
where d.batch <= run.as_of_batch
