-- makes:   landing.files
-- reads:   store.files, settings.run
-- grain:   one row per file taken in up to the batch
-- key:     file
-- about:   Files and what became of their rows: rows read are accepted, duplicates, corrections, withdrawals and
--          quarantined together.
-- columns:
--   file         integer  number of the file, in order of batch and path
--   batch        integer  batch in which it was received
--   sender       varchar  who sent it
--   path         varchar  where it was dropped
--   sha256       varchar  SHA-256 of its bytes
--   form         varchar  how it was read, such as csv, semicolon, utf-8; empty when it could not be
--   table_name   varchar  export table it holds; empty when it could not be read
--   rows_read    integer  rows in it
--   accepted     integer  rows accepted as new
--   duplicates   integer  rows that said what was known
--   corrections  integer  rows that changed what was known
--   withdrawals  integer  rows that took something back
--   quarantined  integer  rows that could not be used
--   problem      varchar  why the file as a whole could not be used
select
    f.file,
    f.batch,
    f.sender,
    f.path,
    f.sha256,
    f.form,
    f.table_name,
    f.rows_read,
    f.accepted,
    f.duplicates,
    f.corrections,
    f.withdrawals,
    f.quarantined,
    f.problem
from store.files as f
cross join settings.run as run
where f.batch <= run.as_of_batch
