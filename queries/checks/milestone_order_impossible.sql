-- makes:   checks.milestone_order_impossible
-- reads:   clean.episodes, clean.milestones
-- grain:   one row per milestone
-- key:     subject
-- severity: attention
-- about:   Milestones whose last day without the stage is not before the day on which it was reached.
-- columns:
--   subject  varchar  what is concerned, by sender and pseudonym
--   site     varchar  the site it belongs to; empty when that cannot be known
--   detail   varchar  what is odd about it
--   rows     integer  rows concerned
--   _file    integer  file of the row, or of the first of them; empty when it is about no row
--   _line    integer  its first physical line in that file
select
    'milestone ' || m.sender || '/' || coalesce(m.milestone_id, e.episode_id || ' ' || m.stage || ' ' || m.change || ' ' || m.reached_on) as subject,
    e.site,
    'not yet on ' || strftime(m.not_yet_on, '%Y-%m-%d') || ', reached on ' || strftime(m.reached_on, '%Y-%m-%d') as detail,
    1 as rows,
    m._file,
    m._line
from clean.milestones as m
join clean.episodes as e on e.episode_key = m.episode_key
where m.not_yet_on >= m.reached_on
order by subject
