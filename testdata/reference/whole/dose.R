# Dose and return of each injury type, from the rows of derive.R: the flow to
# the landmark, how much was done, and the share returned by a week of care in
# each third of dose with the contrast of the upper less the lower.
source("../lib.R")
packages("survival")
source(given_data("cut.r"))

horizons <- c(26, 12, 6) # weeks of care, the longest that can be told first
least_persons <- 20
least_returns <- 5
gone_percent <- 50
dose <- rows_of("dose")
states <- c("at_target", "no_usable", "returned", "ended_otherwise", "in_care", "lost", "left_otherwise")

# The smallest value that a share p of all does not exceed.
quantile_of <- function(x, p) sort(x)[max(1, ceiling(p * length(x)))]

# The share returned by a day: Aalen-Johansen, with its error by person.
returned_by <- function(rows, day) {
  rows$end <- factor(ifelse(rows$state %in% c("returned", "ended_otherwise"), rows$state, "none"), c("none", "returned", "ended_otherwise"))
  fit <- survfit(Surv(day, end) ~ 1, rows, influence = TRUE, start.time = -1)
  k <- match("returned", fit$states)
  i <- findInterval(day, fit$time)
  influence <- fit$influence.pstate
  if (dim(influence)[2] > length(fit$time)) influence <- influence[, -1, , drop = FALSE]
  if (i == 0) return(c(0, NA, NA, NA))
  p <- fit$pstate[i, k]
  se <- sqrt(sum(rowsum(influence[, i, k], rows$person)^2))
  if (p < 1e-12 || p > 1 - 1e-12) return(c(p, NA, NA, NA))
  z <- qnorm(0.975) * se / (p * log(p))
  c(p, se, exp(-exp(log(-log(p)) - z)), exp(-exp(log(-log(p)) + z)))
}
# Whether something is known of a group at a day.
known_at <- function(rows, day) {
  if (max(rows$day) >= day) return(TRUE)
  last <- rows[rows$day == max(rows$day), ]
  all(last$state %in% c("returned", "ended_otherwise"))
}

out <- list()
reasons <- list()
for (type in types) {
  e <- episodes[episodes$began & episodes$injury_type == type, ]
  d <- data.frame(e[c("episode", "person", "severity")], stand(e), dose[e$episode, -1])
  landmark <- d$landmark_day[1]
  gone <- d$state %in% c("at_target", "no_usable") | d$day < landmark
  after <- d[!gone, ]
  analysed <- after[!is.na(after$sets), ]
  some <- analysed[analysed$sets > 0, ]
  asked <- !d$state %in% c("at_target", "no_usable") & !(gone & d$state == "in_care")
  most_gone <- 100 * sum(gone & d$state == "returned") > gone_percent * sum(asked)
  said <- list(began = nrow(d), left_out = sum(gone) + sum(is.na(after$sets)), analysed = nrow(analysed), no_cuff_work = sum(analysed$sets == 0), some_cuff_work = nrow(some))
  for (x in states) reasons[[x]] <- c(reasons[[x]], sum(gone & d$state == x))
  reasons$dose_unknown <- c(reasons$dose_unknown, sum(is.na(after$sets)))
  for (x in c("sets", "pressure_minutes", "sessions")) {
    amount <- some[[x]][!is.na(some[[x]])] * 7 / landmark
    said[[paste0(x, "_quartiles")]] <- sapply(c(0.25, 0.5, 0.75), function(p) if (most_gone) NA else quantile_of(amount, p))
  }
  planned <- analysed[!is.na(analysed$planned_sets) & analysed$planned_sets > 0, ]
  said$plan_sets_share <- if (most_gone) NA else sum(planned$sets) / sum(planned$planned_sets)

  bounds <- c(quantile_of(some$sets, 1 / 3), quantile_of(some$sets, 2 / 3))
  some$third <- 1 + (some$sets > bounds[1]) + (some$sets > bounds[2])
  thirds <- split(some, factor(some$third, 1:3))
  week <- horizons[sapply(horizons, function(w) all(sapply(thirds, function(rows) nrow(rows) > 0 && known_at(rows, 7 * w))))]
  week <- c(week, 26)[1]
  refused <- most_gone || length(unique(some$person)) < least_persons || sum(some$state == "returned" & some$day <= 7 * week) < least_returns ||
    quantile_of(some$sets, 0.25) == quantile_of(some$sets, 0.75) || any(sapply(thirds, nrow) == 0) || !all(sapply(thirds, known_at, 7 * week))
  said$week <- week
  shares <- if (refused) matrix(NA, 4, 3) else sapply(thirds, returned_by, 7 * week)
  said$thirds <- list(episodes = if (refused) rep(NA, 3) else sapply(thirds, nrow), value = shares[1, ], se = shares[2, ], low = shares[3, ], high = shares[4, ])
  said$contrast_raw <- shares[1, 3] - shares[1, 1]
  parts <- sapply(split(some, some$severity), function(rows) {
    low <- rows[rows$third == 1, ]
    high <- rows[rows$third == 3, ]
    if (refused || nrow(low) == 0 || nrow(high) == 0) return(c(0, 0))
    c(nrow(rows), returned_by(high, 7 * week)[1] - returned_by(low, 7 * week)[1])
  })
  said$contrast_standardised <- if (refused) NA else sum(parts[1, ] * parts[2, ]) / sum(parts[1, ])
  out[[type]] <- said
}
out$left_out <- lapply(reasons, sum)
answer(out)
