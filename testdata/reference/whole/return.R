# The return to activity of each injury type, from the rows of derive.R: the
# flow, the curves with their limits, quantiles, the mean, the sensitivities.
source("../lib.R")
packages("survival")
source(given_data("cut.r"))

horizons <- c(6, 12, 26)
weeks <- 0:26
floor_at_risk <- 10
causes <- c("surgery", "new_injury", "not_returning", "may_not_continue", "died")

flow <- function(e) {
  s <- stand(e)$state
  out <- list(began = nrow(e), at_risk = sum(!s %in% c("at_target", "no_usable")), not_followed = sum(s %in% c("lost", "left_otherwise")))
  for (x in c("at_target", "no_usable", "returned", "ended_otherwise", "in_care")) out[[x]] <- sum(s == x)
  out
}

reasons <- function(e) {
  s <- stand(e)$state
  out <- list(lost = sum(s == "lost"), left_otherwise = sum(s == "left_otherwise"), returned_provisional = sum(s == "returned" & e$provisional))
  for (x in causes) out[[x]] <- sum(s == "ended_otherwise" & e$end_cause %in% x)
  out
}

# The share with an end as a step function of the day: Aalen-Johansen, with the
# influence of each person. (The fit's own error leaves out that two episodes
# are of one person, so it is summed from the influences here.) Limits log-log, on the share itself.
curve <- function(e, s, of = "returned") {
  at_risk <- !s$state %in% c("at_target", "no_usable")
  d <- data.frame(day = s$day[at_risk], person = e$person[at_risk])
  d$end <- factor(ifelse(s$state[at_risk] %in% c("returned", "ended_otherwise"), s$state[at_risk], "none"), c("none", "returned", "ended_otherwise"))
  fit <- survfit(Surv(day, end) ~ 1, d, influence = TRUE, start.time = -1)
  k <- match(of, fit$states)
  value <- fit$pstate[, k]
  influence <- fit$influence.pstate[, , k]
  if (ncol(influence) > length(value)) influence <- influence[, -1] # the start
  influence <- rowsum(influence, d$person)
  se <- sqrt(colSums(influence^2))
  value[value < 1e-12] <- NA # no scale has limits there
  value[value > 1 - 1e-12] <- NA
  limit <- function(z) exp(-exp(log(-log(value)) + z * se / (value * log(value))))
  z <- qnorm(0.975)
  at <- function(t, x, first) c(first, x)[1 + findInterval(t, fit$time)]
  list(time = fit$time, share = fit$pstate[, k], low = limit(-z), high = limit(z), influence = influence,
       persons = length(unique(d$person)), episodes = nrow(d), at = at, se = ifelse(is.na(value), NA, se),
       risk = function(t) colSums(outer(d$day, t, ">=")),
       known = function(t) t <= max(d$day) | at(t, fit$pstate[, 1], 1) < 1e-12)
}

points <- function(c, weeks) {
  t <- 7 * weeks
  show <- function(x, first = NA) ifelse(c$known(t), c$at(t, x, first), NA)
  list(value = show(c$share, 0), se = show(c$se), low = show(c$low), high = show(c$high))
}

# First day at which a step function is at p; the middle of a level at p.
reach <- function(time, x, p) {
  i <- which(x >= p - 1.5e-8)[1]
  if (is.na(i)) return(NA)
  level <- abs(x[i] - p) < 1.5e-8
  if (level && any(x > p + 1.5e-8)) (time[i] + time[which(x > p + 1.5e-8)[1]]) / 2 else time[i]
}

out <- list()
for (type in types) {
  e <- episodes[episodes$began & episodes$injury_type == type, ]
  s <- stand(e)
  c <- curve(e, s)
  week <- c(26, 12, 6)[which(c$risk(7 * c(26, 12, 6)) >= floor_at_risk)[1]]
  before <- c$time < 7 * week
  steps <- diff(c(c$time[before], 7 * week))
  quartile <- function(x) sapply(c(0.25, 0.5, 0.75), function(p) reach(c$time, x, p)) / 7
  out[[type]] <- list(
    flow = flow(e), persons = c$persons, episodes = c$episodes, at_risk = c$risk(7 * weeks),
    cumulative = points(c, weeks), competing = points(curve(e, s, "ended_otherwise"), weeks), share = points(c, horizons),
    quantiles = quartile(c$share), quantiles_low = quartile(c$high), quantiles_high = quartile(c$low), mean_week = week,
    mean = (7 * week - sum(c$share[before] * steps)) / 7, mean_se = sqrt(sum((c$influence[, before, drop = FALSE] %*% steps)^2)) / 7,
    lost_never = points(curve(e, stand(e, "lost_never")), horizons), lost_return = points(curve(e, stand(e, "lost_return")), horizons),
    hold_0 = points(curve(e, stand(e, back = e$return_day_short)), horizons), hold_28 = points(curve(e, stand(e, back = e$return_day_long)), horizons),
    goal_met = points(curve(e, stand(e, back = ifelse(is.na(e$return_day), e$goal_met_day, e$return_day))), horizons))
  gaps <- rows_of("gaps")
  gaps <- gaps[gaps$episode %in% e$episode & gaps$day <= as.integer(month_to - episodes$start[gaps$episode]), ]
  out[[type]]$spacing <- median(gaps$gap_days)
}
began <- episodes[episodes$began, ]
out$practice <- list(flow = flow(began), reasons = reasons(began))
for (site in sort(unique(began$site))) out[[site]] <- list(flow = flow(began[began$site == site, ]))
answer(out)
