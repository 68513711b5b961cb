-- makes:   clean.files
-- reads:   landing.files
-- grain:   one row per file taken in
-- key:     file
-- about:   Files and what became of their rows; the way back from a row to the file it stood in.
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
    file,
    batch,
    sender,
    path,
    sha256,
    form,
    table_name,
    rows_read,
    accepted,
    duplicates,
    corrections,
    withdrawals,
    quarantined,
    problem
from landing.files
order by file
