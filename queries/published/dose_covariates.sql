-- makes:   published.dose_covariates
-- reads:   clean.episodes, clean.sessions, derived.targets, derived.baselines, derived.dose_windows, seeds.stages
-- grain:   one row per course of care
-- key:     episode_key
-- about:   What was known of every course of care when it began, for comparing those who had different doses as
--          if they were alike, and who gave most of the work before the landmark.
-- columns:
--   episode_key     integer  the episode
--   person_key      integer  the person
--   site            varchar  where care is given
--   injury_type     varchar  what was injured
--   start_date      date     first day of care, day 0
--   age_band        varchar  age at start, in bands; empty when not recorded
--   sex             varchar  female, male or other; empty when not recorded or not known
--   severity        varchar  severity as judged at the start; empty when not recorded
--   onset_days      integer  days from the operation, else from the onset, to the start; empty when not known
--   activity_level  varchar  usual activity before the injury; empty when not recorded
--   target_ladder   varchar  the ladder of the target stage; empty without a target
--   target_share    double   the target's place on its ladder, from 0 at the foot to 1 at the top
--   baseline_pain   double   pain from 0 to 10 at baseline, else before the first attended session; empty without either
--   complete        boolean  whether all of these are known
--   clinician       integer  who gave most attended sessions of the window, numbered from 1; empty when no session says who
with first_sessions as (
    select
        s.episode_key,
        s.pain_before
    from clean.sessions as s
    join clean.episodes as e on e.episode_key = s.episode_key
    where s.attendance = 'attended'
      and s.session_date >= e.start_date
    qualify row_number() over (partition by s.episode_key order by s.session_date, s.session_key) = 1
),

clinicians as (
    select
        s.sender,
        s.clinician_id,
        cast(row_number() over (order by s.sender, s.clinician_id) as integer) as clinician
    from (select distinct sender, clinician_id from clean.sessions where clinician_id is not null) as s
),

given as (
    select
        s.episode_key,
        s.sender,
        s.clinician_id,
        count(*) as sessions
    from clean.sessions as s
    join clean.episodes as e on e.episode_key = s.episode_key
    join derived.dose_windows as w on w.episode_key = s.episode_key
    where s.attendance = 'attended'
      and s.clinician_id is not null
      and s.session_date - e.start_date between 0 and w.landmark_day - 1
    group by s.episode_key, s.sender, s.clinician_id
    qualify row_number() over (partition by s.episode_key order by count(*) desc, s.clinician_id) = 1
),

ladders as (
    select
        ladder,
        max(rank) as top
    from seeds.stages
    group by ladder
),

known as (
    select
        e.episode_key,
        e.person_key,
        e.site,
        e.injury_type,
        e.start_date,
        e.age_band,
        case when e.sex <> 'unknown' then e.sex end as sex,
        e.severity,
        case
            when e.surgery_date <= e.start_date then cast(e.start_date - e.surgery_date as integer)
            when e.onset_date <= e.start_date then cast(e.start_date - e.onset_date as integer)
        end as onset_days,
        e.activity_level,
        t.ladder as target_ladder,
        cast(t.rank as double) / l.top as target_share,
        cast(coalesce(b.value, f.pain_before) as double) as baseline_pain
    from clean.episodes as e
    left join derived.targets as t on t.episode_key = e.episode_key
    left join ladders as l on l.ladder = t.ladder
    left join derived.baselines as b on b.episode_key = e.episode_key and b.measure = 'pain_nrs' and b.side = 'none'
    left join first_sessions as f on f.episode_key = e.episode_key
)

select
    k.episode_key,
    k.person_key,
    k.site,
    k.injury_type,
    k.start_date,
    k.age_band,
    k.sex,
    k.severity,
    k.onset_days,
    k.activity_level,
    k.target_ladder,
    k.target_share,
    k.baseline_pain,
    k.age_band is not null and k.sex is not null and k.severity is not null and k.onset_days is not null
    and k.activity_level is not null and k.target_share is not null and k.baseline_pain is not null as complete,
    c.clinician
from known as k
left join given as g on g.episode_key = k.episode_key
left join clinicians as c on c.sender = g.sender and c.clinician_id = g.clinician_id
order by k.episode_key
