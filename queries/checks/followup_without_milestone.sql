-- makes:   checks.followup_without_milestone
-- reads:   clean.episodes, clean.followups, derived._marks, derived.targets, seeds.stages
-- grain:   one row per follow-up
-- key:     subject
-- severity: note
-- about:   Follow-ups that name a stage at or above the target while no milestone says so by that day. A
--          return counts from a milestone alone.
-- columns:
--   subject  varchar  what is concerned, by sender and pseudonym
--   site     varchar  the site it belongs to; empty when that cannot be known
--   detail   varchar  what is odd about it
--   rows     integer  rows concerned
--   _file    integer  file of the row, or of the first of them; empty when it is about no row
--   _line    integer  its first physical line in that file
select
    'follow-up ' || f.sender || '/' || e.episode_id || ' ' || f.contact_on as subject,
    e.site,
    'stage ' || f.stage || ' named, no milestone for ' || t.target_stage as detail,
    1 as rows,
    f._file,
    f._line
from clean.followups as f
join clean.episodes as e on e.episode_key = f.episode_key
join derived.targets as t on t.episode_key = f.episode_key
join seeds.stages as s on s.code = f.stage and s.ladder = t.ladder
where f.reached
  and s.rank >= t.rank
  and not exists (
      select 1
      from derived._marks as m
      where m.episode_key = f.episode_key
        and m.reaches
        and m.day <= f.contact_on - e.start_date
  )
order by subject
