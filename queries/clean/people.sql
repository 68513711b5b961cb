-- makes:   clean.people
-- reads:   clean.episodes
-- grain:   one row per person
-- key:     person_key
-- about:   The persons of the episodes.
-- columns:
--   person_key  integer  the person
--   sender      varchar  who sent the episodes
--   person_id   varchar  pseudonym of the person; empty when the sender gave none
--   episodes    integer  courses of care of the person
select
    person_key,
    sender,
    person_id,
    cast(count(*) as integer) as episodes
from clean.episodes
group by person_key, sender, person_id
order by person_key
