# Derives from the files of a small practice, by README's definitions alone,
# the rows on which the figures rest: return, pairs of sides, changes, dose.
# Nothing here has seen a query of the program. Days count from start_date.
source("../lib.R")

# --- what README and the settings' defaults say --------------------------------

received <- as.Date(c("2025-12-23", "2026-01-22")) # the two nights
sites <- c("harbour", "millrace", "quarry", "saltmarsh", "ropewalk")
hold <- c(usual = 14, short = 0, long = 28)
target_by_day <- 28
pair_days <- 7
baseline_from <- -28
baseline_to <- 7
recorded_percent <- 80

code_table <- function(name) read.csv(file.path("../../../seeds/reference", paste0(name, ".csv")), colClasses = "character", na.strings = "")
stages <- code_table("stages")
injuries <- code_table("injury_types")
measures <- code_table("measures")
exercises <- code_table("exercises")

# --- the rows in force -------------------------------------------------------

# All versions of a table's rows, oldest first.
versions <- function(table) {
  all <- NULL
  for (night in seq_along(received)) {
    for (file in sort(list.files(".", paste0("^", night, "_[a-z]+_", table, "\\.csv\\.gz$")), method = "radix")) {
      rows <- read.csv(given_data(file), colClasses = "character", na.strings = "")
      if (is.null(rows$row_state)) rows$row_state <- NA
      rows$sender <- strsplit(file, "_")[[1]][2]
      all <- rbind(all, rows)
    }
  }
  all
}

# The last version of each row, unless that takes the row back.
in_force <- function(rows, key) {
  rows <- rows[!duplicated(paste(rows$sender, key), fromLast = TRUE), ]
  rows[is.na(rows$row_state) | rows$row_state != "withdrawn", ]
}
keyed <- function(id, fallback) ifelse(is.na(id), paste("fallback", fallback), paste("id", id))
given <- function(x, otherwise) ifelse(is.na(x), otherwise, x)
day_of <- function(x) as.integer(as.Date(x))

episode_versions <- versions("episodes")
e <- in_force(episode_versions, episode_versions$episode_id)
e$id <- paste(e$sender, e$episode_id)
e <- e[order(e$sender, e$episode_id, method = "radix"), ]
e$episode <- seq_len(nrow(e))
known <- sort(unique(paste(e$sender, e$person_id)[!is.na(e$person_id)]), method = "radix")
e$person <- match(ifelse(is.na(e$person_id), NA, paste(e$sender, e$person_id)), known)
e$person[is.na(e$person)] <- length(known) + seq_len(sum(is.na(e$person)))
e$start <- day_of(e$start_date)

# Rows of an episode that is there, with the episode's number and the day.
of_episodes <- function(rows, date) {
  rows$episode <- match(paste(rows$sender, rows$episode_id), e$id)
  rows <- rows[!is.na(rows$episode), ]
  rows$date <- day_of(rows[[date]])
  rows$day <- rows$date - e$start[rows$episode]
  rows
}
s <- versions("sessions")
s <- of_episodes(in_force(s, s$session_id), "session_date")
m <- versions("measurements")
m$trial <- given(m$trial, "1")
m <- of_episodes(in_force(m, keyed(m$measurement_id, paste(m$episode_id, m$measured_on, m$measure, m$side, m$trial, m$rater_id))), "measured_on")
k <- versions("milestones")
k$change <- given(k$change, "reached")
k <- of_episodes(in_force(k, keyed(k$milestone_id, paste(k$episode_id, k$reached_on, k$stage, k$change))), "reached_on")
f <- versions("followups")
f <- of_episodes(in_force(f, paste(f$episode_id, f$contact_on)), "contact_on")
p <- versions("plans")
p <- of_episodes(in_force(p, paste(p$episode_id, p$plan_from, p$exercise)), "plan_from")
b <- versions("bouts")
b <- in_force(b, paste(b$session_id, b$bout_no))
b$session <- match(paste(b$sender, b$session_id), paste(s$sender, s$session_id))
b <- b[!is.na(b$session), ]
stated <- versions("delivery")
stated$to <- day_of(stated$complete_to)
stated$from <- day_of(stated$complete_from)

# --- how far the data reach ---------------------------------------------------

last_day <- as.integer(received[length(received)])
through <- sapply(sites, function(site) {
  said <- stated$to[stated$site == site & stated$to <= last_day]
  if (length(said) > 0) return(max(said))
  seen <- unlist(lapply(list(s, m, k), function(rows) rows$date[e$site[rows$episode] == site]))
  seen <- seen[seen <= last_day]
  if (length(seen) > 0) max(seen) else NA
})
e$through <- through[e$site]
e$follow <- e$through - e$start

# --- return to activity -------------------------------------------------------

# The target in force. A version without a target says nothing.
v <- episode_versions[!is.na(episode_versions$target_stage), ]
v$id <- paste(v$sender, v$episode_id)
v$set <- day_of(v$target_set_on)
target <- lapply(e$episode, function(i) {
  mine <- v[v$id == e$id[i], ]
  early <- which(!is.na(mine$set) & mine$set <= e$start[i] + target_by_day)
  if (length(early) > 0) {
    at <- max(early[mine$set[early] == max(mine$set[early])])
    return(list(stage = mine$target_stage[at], origin = "in_time"))
  }
  undated <- which(is.na(mine$set))
  if (length(undated) > 0) return(list(stage = mine$target_stage[undated[1]], origin = "undated"))
  if (nrow(mine) > 0) {
    first <- which(mine$set == min(mine$set))
    return(list(stage = mine$target_stage[min(first)], origin = "late"))
  }
  list(stage = injuries$default_target_stage[match(e$injury_type[i], injuries$code)], origin = "type_default")
})
e$target <- sapply(target, `[[`, "stage")
e$origin <- sapply(target, `[[`, "origin")

ladder <- function(stage) stages$ladder[match(stage, stages$code)]
rank_of <- function(stage) as.integer(stages$rank[match(stage, stages$code)])
k <- k[k$date <= e$through[k$episode] & ladder(k$stage) == ladder(e$target)[k$episode], ]
k$reaches <- k$change == "reached" & rank_of(k$stage) >= rank_of(e$target)[k$episode]
k$loses <- k$change == "lost" & rank_of(k$stage) <= rank_of(e$target)[k$episode]

e$at_target <- sapply(e$episode, function(i) {
  if (!is.na(e$stage_at_start[i]) && ladder(e$stage_at_start[i]) == ladder(e$target[i])) {
    return(rank_of(e$stage_at_start[i]) >= rank_of(e$target[i]))
  }
  before <- k[k$episode == i & k$day <= 0 & (k$reaches | k$loses), ]
  latest <- before[before$day == max(before$day, -Inf), ]
  nrow(latest) > 0 && any(latest$reaches) && !any(latest$loses)
})

backwards <- given(day_of(e$end_date) < e$start, FALSE)
e$unusable <- ifelse(is.na(e$through), "no_data", ifelse(e$follow < 0, "after_data", ifelse(backwards, "end_before_start", "")))

# First day at the target that is not lost within the hold.
back <- function(days) sapply(e$episode, function(i) {
  if (e$unusable[i] != "" || e$at_target[i]) return(NA)
  lost <- k$day[k$episode == i & k$loses]
  for (d in sort(k$day[k$episode == i & k$reaches & k$day >= 0])) {
    if (!any(lost >= d & lost <= d + days)) return(d)
  }
  NA
})
e$return_day <- back(hold[["usual"]])
e$return_day_short <- back(hold[["short"]])
e$return_day_long <- back(hold[["long"]])
e$provisional <- !is.na(e$return_day) & e$follow - e$return_day < hold[["usual"]]

# --- contacts and the end of watching ------------------------------------------

all_milestones <- versions("milestones")
all_milestones$change <- given(all_milestones$change, "reached")
all_milestones <- of_episodes(in_force(all_milestones, keyed(all_milestones$milestone_id,
  paste(all_milestones$episode_id, all_milestones$reached_on, all_milestones$stage, all_milestones$change))), "reached_on")
contact <- rbind(s[s$attendance == "attended", c("episode", "day")], m[, c("episode", "day")],
  all_milestones[, c("episode", "day")], f[!is.na(f$reached) & f$reached == "true", c("episode", "day")])
contact <- unique(contact[contact$day >= 0 & contact$day <= e$follow[contact$episode], ])
contact <- contact[order(contact$episode, contact$day), ]
e$contacts <- tabulate(contact$episode, nrow(e))
e$last_contact <- sapply(e$episode, function(i) max(0, contact$day[contact$episode == i]))

competing <- c("surgery", "new_injury", "not_returning", "may_not_continue", "died")
gap_limit <- as.integer(injuries$contact_gap_days[match(e$injury_type, injuries$code)])
e$end_at <- day_of(e$end_date) - e$start
has_end <- !is.na(e$end_date) | !is.na(e$end_reason)
first_day <- given(e$end_reason == "surgery" & e$end_at <= 0, FALSE)
competes <- given(e$end_reason %in% competing, FALSE) & !first_day
by_end <- ifelse(competes, given(e$end_at, e$last_contact), NA)
by_knife <- day_of(e$surgery_date) - e$start
by_knife[by_knife <= 0] <- NA
by_end[by_end > e$follow] <- NA # not yet
by_knife[by_knife > e$follow] <- NA
e$end_day <- pmin(by_end, by_knife, na.rm = TRUE)
e$end_cause <- ifelse(is.na(e$end_day), "", ifelse(given(by_end == e$end_day, FALSE), e$end_reason, "surgery"))
silent <- e$follow - e$last_contact > gap_limit
e$out_reason <- ifelse(competes, "in_care", ifelse(has_end, given(e$end_reason, "not_recorded"), ifelse(silent, "gap", "in_care")))
e$out_day <- ifelse(e$out_reason == "in_care", e$follow, e$last_contact)
e$goal_met_day <- ifelse(given(e$end_reason == "goal_met", FALSE) & is.na(e$return_day) & !e$at_target & e$unusable == "",
  pmin(given(e$end_at, e$last_contact), e$follow), NA)

# --- values of visits, baselines, pairs ----------------------------------------

m <- m[m$date <= e$through[m$episode] & !backwards[m$episode], ]
m <- m[given(m$unit, "") %in% "" | m$unit == measures$unit[match(m$measure, measures$code)], ]
m <- m[order(m$episode, m$measure, m$side, m$day, method = "radix"), ]
visit <- paste(m$episode, m$measure, m$side, m$day)
visits <- m[!duplicated(visit), c("episode", "measure", "side", "day")]
of_visit <- function(x, f) unname(c(tapply(x, factor(visit, unique(visit)), f)))
def <- match(visits$measure, measures$code)
x <- as.numeric(m$value)
visits$value <- ifelse(!measures$kind[def] %in% c("hop", "endurance"), of_visit(x, mean),
  ifelse(measures$better[def] == "less", of_visit(x, min), of_visit(x, max)))
visits$rater <- of_visit(m$rater_id, function(r) if (length(unique(r)) == 1) r[1] else NA)

# Work with the cuff inflated, of any limb, by session.
number <- function(x) as.numeric(x)
marked <- given(number(b$applied_pressure_mmhg) > 0, FALSE) | given(number(b$pressure_percent) > 0, FALSE) | given(number(b$inflated_minutes) > 0, FALSE)
b$inflated <- ifelse(is.na(b$cuff_inflated), marked | !is.na(b$mode), b$cuff_inflated == "true")
attended <- s$attendance == "attended"
s$inflated <- attended & seq_len(nrow(s)) %in% b$session[b$inflated]
e$second <- sapply(e$episode, function(i) sort(s$day[s$episode == i & s$inflated])[2])

base <- visits[visits$day >= baseline_from & visits$day <= baseline_to & visits$day < given(e$second[visits$episode], Inf), ]
base <- base[order(abs(base$day), base$day), ]
base <- base[!duplicated(base[c("episode", "measure", "side")]), ]
base_of <- function(rows, side) match(paste(rows$episode, rows$measure, side), paste(base$episode, base$measure, base$side))

one <- visits[visits$side == e$side[visits$episode], ]
one$side <- c(left = "right", right = "left")[one$side]
pairs <- merge(one[c("episode", "measure", "side", "day", "value", "rater")], visits[c("episode", "measure", "side", "day", "value", "rater")],
  by = c("episode", "measure", "side"), suffixes = c("", "_uninvolved"))
pairs$apart <- abs(pairs$day_uninvolved - pairs$day)
pairs <- pairs[pairs$apart <= pair_days, ]
pairs <- pairs[order(pairs$apart, pairs$day_uninvolved), ]
pairs <- pairs[!duplicated(pairs[c("episode", "measure", "day")]), ]
pairs <- data.frame(pairs[c("episode", "measure", "day")], severity = e$severity[pairs$episode], involved = pairs$value, uninvolved = pairs$value_uninvolved,
  uninvolved_day = pairs$day_uninvolved, uninvolved_baseline = base$value[base_of(pairs, pairs$side)],
  same_rater = given(pairs$rater == pairs$rater_uninvolved, FALSE))
percent <- function(involved, uninvolved, measure) {
  less <- measures$better[match(measure, measures$code)] == "less"
  x <- ifelse(less, 100 * uninvolved / involved, 100 * involved / uninvolved)
  ifelse(is.finite(x), x, NA)
}
pairs$index_percent <- percent(pairs$involved, pairs$uninvolved, pairs$measure)
pairs$baseline_percent <- percent(pairs$involved, pairs$uninvolved_baseline, pairs$measure)

worse <- ifelse(e$side == "bilateral", e$worse_side, e$side)
limb <- visits[given(visits$side == worse[visits$episode], FALSE), ]
at <- base_of(limb, limb$side)
changes <- data.frame(limb[c("episode", "measure", "day")], baseline_day = base$day[at], value = limb$value, baseline = base$value[at],
  same_rater = given(limb$rater == base$rater[at], FALSE))
changes <- changes[!is.na(changes$baseline) & changes$day > changes$baseline_day, ]

both <- visits[given(e$side[visits$episode] == "bilateral", FALSE) & !is.na(e$worse_side[visits$episode]) & visits$side != "none", ]
at <- base_of(both, both$side)
both <- data.frame(both[c("episode", "measure")], limb = ifelse(both$side == e$worse_side[both$episode], "worse", "other"), day = both$day,
  baseline_day = base$day[at], value = both$value, baseline = base$value[at], same_rater = given(both$rater == base$rater[at], FALSE))
both <- both[!is.na(both$baseline) & both$day > both$baseline_day, ]

# --- dose of the window before the landmark --------------------------------------

e$landmark <- as.integer(injuries$landmark_days[match(e$injury_type, injuries$code)])
b$episode <- s$episode[b$session]
b$day <- s$day[b$session]
b$class <- exercises$class[match(b$exercise, exercises$code)]
in_care <- s$day >= 0 & s$day <= e$follow[s$episode]
s$counts <- attended & in_care & s$day < e$landmark[s$episode]
its_side <- e$side[b$episode]
exercise <- b$class != "passive" & given(b$mode, "") != "passive"
counted <- b[b$inflated & exercise & s$counts[b$session] &
  (is.na(b$side) | b$side == "bilateral" | its_side == "bilateral" | given(b$side == its_side, FALSE)), ]
counted$percent <- ifelse(is.na(counted$pressure_percent),
  floor(1e6 * number(counted$applied_pressure_mmhg) / number(counted$occlusion_pressure_mmhg) + 0.5) / 1e4, number(counted$pressure_percent))
for (x in c("sets", "reps", "inflated_minutes")) counted[[x]] <- number(counted[[x]])
counted$pressure_minutes <- counted$percent / 100 * counted$inflated_minutes
ingredients <- c("sets", "reps", "inflated_minutes", "pressure_minutes")
counted[is.na(counted$side) & e$side[counted$episode] != "bilateral", ingredients] <- NA

# Recorded sum x bouts / bouts that record it, class by class.
filled <- function(rows, x) {
  known <- !is.na(rows[[x]])
  if (nrow(rows) == 0) return(0)
  if (100 * sum(known) < recorded_percent * nrow(rows) || any(tapply(known, rows$class, sum) == 0)) return(NA)
  sum(tapply(seq_len(nrow(rows)), rows$class, function(i) sum(rows[[x]][i], na.rm = TRUE) * length(i) / sum(known[i])))
}

intended <- t(sapply(e$episode, function(i) {
  mine <- p[p$episode == i, ]
  window <- e$landmark[i]
  total <- 0
  home <- FALSE
  any_plan <- FALSE
  for (from in sort(unique(mine$day))) {
    to <- min(c(mine$day[mine$day > from], window)) # the day after its last
    days <- to - max(from, 0)
    if (from >= window || days <= 0) next
    any_plan <- TRUE
    rows <- mine[mine$day == from, ]
    rows$sessions_per_week <- given(number(rows$sessions_per_week), c(number(rows$sessions_per_week[is.na(rows$exercise)]), NA)[1])
    cuff <- rows[given(rows$cuff_inflated == "true", given(number(rows$pressure_percent) > 0, FALSE)), ]
    lines <- cuff[!is.na(cuff$exercise), ]
    if (nrow(lines) == 0) lines <- cuff
    home <- home || any(given(cuff$setting == "home", FALSE))
    if (nrow(lines) > 0) total <- total + sum(number(lines$sets) * lines$sessions_per_week) * days / 7
  }
  c(if (any_plan) total else NA, home)
}))
e$planned_sets <- intended[, 1]
home_planned <- intended[, 2] == 1

dose <- do.call(rbind, lapply(e$episode, function(i) {
  window <- c(e$start[i], e$start[i] + e$landmark[i] - 1)
  mine <- s[s$episode == i & s$counts, ]
  said <- stated[stated$site == e$site[i] & !is.na(stated$from), ]
  gap <- FALSE
  if (nrow(said) > 1) {
    covered <- unlist(Map(seq, said$from, said$to))
    between <- seq(min(covered), max(covered))
    gap <- any(setdiff(between, covered) %in% seq(window[1], window[2]))
  }
  at_home <- any(given(mine$setting == "home", FALSE))
  bare <- any(!which(s$episode == i & s$counts) %in% b$session)
  reason <- if (is.na(e$through[i]) || window[2] > e$through[i]) "window_open" else if (gap) "delivery_gap" else
    if (home_planned[i] && !at_home) "home_not_logged" else if (bare) "session_without_bouts" else ""
  rows <- counted[counted$episode == i, ]
  if (reason != "") return(data.frame(missing_reason = reason, sessions = NA, bouts = NA, sets = NA, reps = NA, inflated_minutes = NA, pressure_minutes = NA))
  data.frame(missing_reason = "", sessions = nrow(mine), bouts = nrow(rows), sets = filled(rows, "sets"), reps = filled(rows, "reps"),
    inflated_minutes = filled(rows, "inflated_minutes"), pressure_minutes = filled(rows, "pressure_minutes"))
}))
dose <- data.frame(episode = e$episode, landmark_day = e$landmark, dose, planned_sets = e$planned_sets)

# --- what was known at the start, and how the dose was recorded ---------------------

onset <- day_of(e$onset_date) - e$start
onset[onset > 0] <- NA
operated <- day_of(e$surgery_date) - e$start
operated[operated > 0] <- NA
first_pain <- sapply(e$episode, function(i) {
  mine <- which(s$episode == i & attended & s$day >= 0)
  mine <- mine[order(s$day[mine], s$session_id[mine], method = "radix")]
  number(s$pain_before[mine[1]])
})
start_pain <- base$value[match(paste(e$episode, "pain_nrs", "none"), paste(base$episode, base$measure, base$side))]
people_seen <- unique(s[!is.na(s$clinician_id), c("sender", "clinician_id")])
people_seen <- people_seen[order(people_seen$sender, people_seen$clinician_id, method = "radix"), ]
own <- sapply(e$episode, function(i) {
  mine <- s$clinician_id[s$episode == i & attended & s$day >= 0 & s$day < e$landmark[i]]
  mine <- table(factor(mine, sort(unique(mine), method = "radix")))
  if (length(mine) == 0) return(NA)
  match(paste(e$sender[i], names(mine)[which.max(mine)]), paste(people_seen$sender, people_seen$clinician_id))
})
top <- tapply(as.integer(stages$rank), stages$ladder, max)
covariates <- data.frame(episode = e$episode, age_band = e$age_band, sex = ifelse(e$sex == "unknown", NA, e$sex), severity = e$severity,
  onset_days = -ifelse(is.na(operated), onset, operated), activity_level = e$activity_level, target_ladder = ladder(e$target),
  target_share = rank_of(e$target) / unname(top[ladder(e$target)]), baseline_pain = ifelse(is.na(start_pain), first_pain, start_pain))
covariates$complete <- complete.cases(covariates)
covariates$clinician <- own

records <- do.call(rbind, lapply(split(counted, counted$episode), function(rows) data.frame(episode = rows$episode[1], bouts = nrow(rows),
  without_sets = sum(is.na(rows$sets)), with_method = sum(!is.na(rows$occlusion_method)), estimated = sum(given(rows$occlusion_method == "estimated", FALSE)),
  with_basis = sum(!is.na(rows$load_basis)), body_weight = sum(given(rows$load_basis %in% c("body_weight", "body_weight_plus"), FALSE)))))
records <- records[order(records$episode), ]

# Near week 12, from the landmark on, beside the same at baseline.
kind <- function(measure) measures$kind[match(measure, measures$code)]
own_base <- base$value[base_of(pairs, e$side[pairs$episode])]
girth <- kind(pairs$measure) == "girth"
near <- data.frame(pairs[c("episode", "measure", "day")], value = ifelse(girth, pairs$involved - pairs$uninvolved, pairs$index_percent),
  baseline = ifelse(girth, own_base - pairs$uninvolved_baseline, percent(own_base, pairs$uninvolved_baseline, pairs$measure)))[kind(pairs$measure) %in% c("strength", "girth"), ]
pain <- visits[visits$side == "none" & kind(visits$measure) == "pain", ]
near <- rbind(near, data.frame(pain[c("episode", "measure", "day", "value")], baseline = base$value[base_of(pain, "none")]))
near <- near[!is.na(near$value) & !is.na(near$baseline) & near$day >= e$landmark[near$episode] & abs(near$day - 84) <= 14, ]
near <- near[order(near$episode, near$measure, abs(near$day - 84), near$day, method = "radix"), ]
near <- near[!duplicated(near[c("episode", "measure")]), ]
responses <- data.frame(near[c("episode", "measure")], kind = kind(near$measure), near[c("day", "value", "baseline")])

# --- the rows, in order of their keys ---------------------------------------------

iso <- function(day) format(as.Date(day, origin = "1970-01-01"))
put_data(data.frame(episode = e$episode, sender = e$sender, episode_id = e$episode_id, person = e$person, site = e$site, injury_type = e$injury_type,
  start_date = e$start_date, data_through = iso(e$through), follow_days = e$follow, unusable = e$unusable, target_stage = e$target,
  target_origin = e$origin, stage_at_start = e$stage_at_start, at_target = e$at_target, return_day = e$return_day,
  return_day_short = e$return_day_short, return_day_long = e$return_day_long, provisional = e$provisional, end_day = e$end_day,
  end_cause = e$end_cause, out_day = e$out_day, out_reason = e$out_reason, goal_met_day = e$goal_met_day,
  last_contact_day = e$last_contact, contacts = e$contacts, bilateral = e$side == "bilateral", severity = e$severity), "rows_return.csv")
gaps <- contact
gaps$gap_days <- c(NA, diff(gaps$day))
gaps <- gaps[duplicated(gaps$episode), ]
put_data(gaps, "rows_gaps.csv")
by_site <- sort(sites, method = "radix")
put_data(data.frame(site = by_site, data_through = iso(through[by_site]), stated = by_site %in% stated$site[stated$to <= last_day],
  first_start = iso(sapply(by_site, function(x) min(e$start[e$site == x])))), "rows_reach.csv")
in_order <- function(rows) rows[order(rows$episode, rows$measure, rows$day, method = "radix"), ]
put_data(in_order(pairs), "rows_pairs.csv")
put_data(in_order(changes), "rows_changes.csv")
put_data(both[order(both$episode, both$measure, both$limb, both$day, method = "radix"), ], "rows_both.csv")
put_data(dose, "rows_dose.csv")
put_data(covariates, "rows_covariates.csv")
put_data(records, "rows_records.csv")
put_data(responses, "rows_responses.csv")

answer(list(episodes = nrow(e), pairs = nrow(pairs), changes = nrow(changes), both = nrow(both)))
