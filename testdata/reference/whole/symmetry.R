# The symmetry of strength and girth of each injury type, from the rows of
# derive.R: counts, plain means, the typical course by a linear mixed model, the
# share that reached 90 %, and who changed by more than measuring error.
source("../lib.R")
packages("lme4", "lmerTest", "splines", "numDeriv", "sandwich")
source(given_data("cut.r"))

horizons <- c(6, 12, 26)
knots <- c(4, 10)
last_week <- 52
around <- 2
least <- 10
pairs <- rows_of("pairs")
changes <- rows_of("changes")
measures <- read.csv("../../../seeds/reference/measures.csv", na.strings = "")

day_limit <- function(rows) as.integer(month_to - episodes$start[rows$episode])
about <- function(rows, week) rows$day >= 7 * (week - around) & rows$day <= 7 * (week + around)
count_persons <- function(rows) length(unique(rows$person))

# The visit of each episode nearest to a week, of two the earlier.
nearest <- function(rows, week) {
  rows <- rows[about(rows, week), ]
  rows <- rows[order(rows$episode, abs(rows$day - 7 * week), rows$day), ]
  rows[!duplicated(rows$episode), ]
}

# --- the model -----------------------------------------------------------------

# lmer at the minimum of its own deviance. Its optimiser can stop at a wrong edge
# when a variance is near zero, so the minimum is searched from several starts and
# without bounds (the deviance is even in each variance), and reached by Newton
# steps; a variance at zero stays there.
fit <- function(formula, d) {
  quiet <- lmerControl(check.conv.singular = "ignore", calc.derivs = FALSE)
  first <- lme4::lmer(formula, d, control = quiet)
  deviance <- lme4::lmer(formula, d, devFunOnly = TRUE)
  variance <- getME(first, "lower") == 0
  n <- length(variance)
  starts <- lapply(list(getME(first, "theta"), c(1, 0, 0.1, 0.3), c(0.5, 0.1, 0.05, 1), c(1, -0.05, 0.02, 0.1)), function(s) s[1:n])
  found <- lapply(starts, function(s) optim(s, deviance, control = list(reltol = 1e-15, maxit = 5000)))
  theta <- found[[which.min(sapply(found, `[[`, "value"))]]$par
  zero <- ifelse(variance & abs(theta) < 1e-4, 0, theta)
  if (deviance(zero) - deviance(theta) < 1e-7) theta <- zero
  free <- which(theta != 0)
  along <- function(x) { theta[free] <- x; deviance(theta) }
  for (k in 1:4) {
    step <- solve(hessian(along, theta[free]), grad(along, theta[free]))
    if (along(theta[free] - step) <= along(theta[free]) + 1e-10) theta[free] <- theta[free] - step
  }
  if (theta[1] < 0) theta[1:2] <- -theta[1:2]
  theta[variance] <- abs(theta[variance])
  lmer(formula, d, control = lmerControl(optimizer = NULL, calc.derivs = FALSE, check.conv.singular = "ignore"), start = theta)
}

# The weeks from the first even one with enough persons nearby to the last
# before one that lacks them.
support <- function(rows) {
  even <- seq(0, last_week, 2)
  enough <- sapply(even, function(week) count_persons(rows[about(rows, week), ]) >= least)
  first <- which(enough)[1]
  run <- which(!enough & seq_along(enough) > first)
  last <- if (length(run) > 0) run[1] - 1 else length(even)
  even[c(first, last)]
}

# Typical values over the practice's own mix: y is the outcome on the scale of
# the model, told turns it into what is shown. Those who began are a sample: to
# the model's variance comes that of the mean of what site and severity give
# each of them, clustered by person; degrees of freedom after Welch and
# Satterthwaite.
course <- function(rows, y, began, log, unit) {
  keep <- !is.na(y) & is.finite(y) & !is.na(rows$severity)
  rows <- data.frame(rows[keep, ], y = y[keep])
  weeks <- support(rows)
  rows <- rows[rows$day <= 7 * (weeks[2] + around), ]
  rows$week <- rows$day / 7
  inside <- knots[knots > weeks[1] & knots < weeks[2]]
  basis <- function(week) ns(week, knots = inside, Boundary.knots = weeks)
  rows$site <- factor(rows$site)
  rows$severity <- factor(rows$severity)
  rows$curve <- basis(rows$week)
  e <- length(unique(rows$episode))
  p <- length(unique(rows$person))
  formula <- if (5 * (e - p) >= p) y ~ site + severity + curve + (1 + week | episode) + (1 | person) else y ~ site + severity + curve + (1 + week | episode)
  model <- fit(formula, rows)
  mix <- began[!began$bilateral & began$site %in% levels(rows$site) & began$severity %in% levels(rows$severity), ]
  who <- mix$person
  mix <- model.matrix(~ factor(site, levels(rows$site)) + factor(severity, levels(rows$severity)), mix)
  given <- c(mix %*% fixef(model)[seq_len(ncol(mix))])
  drawn <- c(vcovCL(lm(given ~ 1), cluster = who, type = "HC0", cadjust = TRUE))
  drawn_df <- length(unique(who)) - 1
  mix <- colMeans(mix)
  at <- function(wanted) {
    contrast <- cbind(matrix(mix, length(wanted), length(mix), byrow = TRUE), basis(wanted))
    ok <- wanted >= weeks[1] & wanted <= weeks[2] & sapply(wanted, function(w) count_persons(rows[about(rows, w), ]) >= least)
    est <- do.call(rbind, lapply(seq_along(wanted), function(i) contest1D(model, contrast[i, ])))
    own <- est$`Std. Error`^2
    se <- sqrt(own + drawn)
    half <- qt(0.975, se^4 / (own^2 / est$df + drawn^2 / drawn_df)) * se
    told <- function(x) ifelse(ok, if (log) unit * exp(x) else x, NA)
    value <- told(est$Estimate)
    list(value = value, se = ifelse(ok, se * if (log) value else 1, NA), low = told(est$Estimate - half), high = told(est$Estimate + half))
  }
  list(at = at, weeks = seq(weeks[1], weeks[2], 2), persons = p, episodes = e, fixed = fixef(model), sigma = sigma(model),
       sd = as.data.frame(VarCorr(model))$sdcor)
}

# --- what stands beside it ---------------------------------------------------------

plain <- function(rows, value, log, unit) {
  lapply(list(value = 1, se = 2, low = 3, high = 4), function(i) sapply(horizons, function(week) {
    near <- nearest(rows, week)
    y <- value(near)
    known <- !is.na(y) & is.finite(y)
    if (count_persons(near[known, ]) < least) return(NA)
    y <- y[known]
    se <- sd(y) / sqrt(length(y))
    x <- mean(y) + c(0, 0, qt(c(0.025, 0.975), length(y) - 1)) * se
    if (log) { x <- unit * exp(x); se <- se * x[1] }
    c(x[1], se, x[3:4])[i]
  }))
}

# The share that came to 90 % and stayed at the next visit, by day, the mass
# between two visits spread evenly; by the self-consistent estimate of Turnbull.
reached <- function(rows, threshold = 90, weeks = c(12, 26)) {
  rows <- rows[!is.na(rows$index_percent), ]
  spans <- t(sapply(split(rows, rows$episode), function(v) {
    high <- v$index_percent >= threshold
    holds <- which(high & c(high[-1], TRUE))
    if (length(holds) == 0) return(c(max(v$day) + 1, Inf))
    c(if (holds[1] == 1) 0 else v$day[holds[1] - 1] + 1, v$day[holds[1]] + 1)
  }))
  ends <- sort(unique(c(spans)))
  from <- ends[-length(ends)]
  to <- ends[-1]
  inner <- outer(spans[, 1], from, "<=") & outer(spans[, 2], to, ">=")
  mass <- rep(1 / length(from), length(from))
  for (i in 1:200000) {
    share <- sweep(inner, 2, mass, "*")
    now <- colMeans(share / rowSums(share))
    done <- max(abs(now - mass)) < 1e-13
    mass <- now
    if (done) break
  }
  later <- sapply(weeks, function(week) count_persons(rows[rows$day >= 7 * (week - around), ]))
  share <- sapply(7 * weeks + 1, function(t) sum(ifelse(to <= t, mass, ifelse(from < t & is.finite(to), mass * (t - from) / (to - from), 0))))
  ifelse(later < least, NA, share)
}

# Weeks after the one at which change is judged are told with enough persons.
shown_from <- function(n, week) if (week <= 12 || n >= least) n else NA

changed <- function(rows, measure) {
  def <- measures[measures$code == measure, ]
  gain_of <- function(near) round(near$value - near$baseline, 6) * if (def$better == "less") -1 else 1
  near <- nearest(rows, 12)
  last <- rows[order(rows$episode, -rows$day), ]
  last <- last[!duplicated(last$episode), ]
  beyond <- function(near) {
    error <- ifelse(near$same_rater == 1, def$mdc95_same_rater, def$mdc95_other_rater)
    gain <- gain_of(near)
    if (is.na(def$mdc95_same_rater) && is.na(def$mdc95_other_rater)) return(list(change_known = NA, improved = NA, worse = NA, no_real_change = NA, weeks = NA))
    known <- !is.na(error)
    list(change_known = sum(known), improved = sum(gain[known] > error[known]), worse = sum(gain[known] < -error[known]),
         no_real_change = sum(abs(gain[known]) <= error[known]), weeks = median(near$day[known]) / 7)
  }
  important <- function(near) {
    if (is.na(def$mic)) return(list(change_compared = NA, important_better = NA, important_worse = NA, not_important = NA))
    gain <- gain_of(near)
    list(change_compared = length(gain), important_better = sum(gain >= def$mic), important_worse = sum(gain <= -def$mic), not_important = sum(abs(gain) < def$mic))
  }
  to_last <- beyond(last)
  names(to_last) <- c(paste0(names(to_last)[1:4], "_last"), "last_visit_weeks")
  important_last <- important(last)
  names(important_last) <- paste0(names(important_last), "_last")
  c(beyond(near)[1:4], to_last, important(near), important_last)
}

# Indices near week 12 beside 90 %. The error of one value is a normal one whose
# difference of two stays within the smallest real change 95 times in 100; that
# of an index is found by the delta method, with numerical slopes.
judged <- function(rows, measure, threshold = 90) {
  def <- measures[measures$code == measure, ]
  near <- nearest(rows[!is.na(rows$index_percent), ], 12)
  change <- ifelse(near$same_rater == 1, def$mdc95_same_rater, def$mdc95_other_rater)
  if (all(is.na(change))) return(list(judged_90 = NA, clear_of_90 = NA, undecided_90 = NA, below_90 = NA, error_at_90 = NA))
  near <- near[!is.na(change), ]
  sem <- change[!is.na(change)] / (qnorm(0.975) * sqrt(2))
  index <- function(x) if (def$better == "less") 100 * x[2] / x[1] else 100 * x[1] / x[2]
  slopes <- t(apply(near[c("involved", "uninvolved")], 1, function(x) grad(index, x)))
  half <- qnorm(0.975) * sem * sqrt(rowSums(slopes^2))
  over <- near$index_percent - threshold
  list(judged_90 = nrow(near), clear_of_90 = sum(over > half), undecided_90 = sum(abs(over) <= half), below_90 = sum(over < -half), error_at_90 = median(half))
}

# Who lies lowest, in the middle and highest of those measured near a week: the
# 10th, 50th and 90th percentile over episodes, each by its nearest visit, at the
# weeks of the course with enough persons.
spread <- function(rows, value, weeks, enough = 30) {
  at <- lapply(weeks, function(week) {
    near <- nearest(rows, week)
    y <- value(near)
    near <- near[is.finite(y), ]
    if (count_persons(near) < enough) c(NA, NA, NA) else unname(quantile(y[is.finite(y)], c(0.1, 0.5, 0.9)))
  })
  list(weeks = weeks, p10 = sapply(at, `[`, 1), p50 = sapply(at, `[`, 2), p90 = sapply(at, `[`, 3))
}

out <- list()
for (type in types) {
  began <- episodes[episodes$began & episodes$injury_type == type, ]
  for (measure in measures$code[measures$kind %in% c("strength", "girth")]) {
    strength <- measures$kind[measures$code == measure] == "strength"
    rows <- pairs[pairs$episode %in% began$episode & pairs$measure == measure & pairs$day >= 0, ]
    rows <- rows[pmax(rows$day, rows$uninvolved_day) <= day_limit(rows), ]
    if (nrow(rows) == 0) next
    rows$person <- episodes$person[rows$episode]
    rows$site <- episodes$site[rows$episode]
    index <- function(r) if (strength) log(r$index_percent / 100) else r$involved - r$uninvolved
    limb <- function(x) if (strength) log(x) else x
    compared <- course(rows, index(rows), began, strength, 100)
    one <- course(rows, limb(rows$involved), began, strength, 1)
    other <- course(rows, limb(rows$uninvolved), began, strength, 1)
    changes_here <- changes[changes$episode %in% began$episode & changes$measure == measure, ]
    changes_here <- changes_here[changes_here$day <= day_limit(changes_here), ]
    out[[paste0(type, "_", measure)]] <- c(list(
      measured = sapply(horizons, function(week) shown_from(count_persons(rows[about(rows, week), ]), week)),
      plain_mean = plain(rows, index, strength, 100), persons = compared$persons, episodes = compared$episodes,
      typical = compared$at(horizons), curve_weeks = compared$weeks, curve = compared$at(compared$weeks),
      involved_weeks = one$weeks, involved = one$at(one$weeks), uninvolved_weeks = other$weeks, uninvolved = other$at(other$weeks)),
      changed(changes_here, measure), if (strength) judged(rows, measure),
      list(spread = spread(rows, function(r) if (strength) r$index_percent else r$involved - r$uninvolved, compared$weeks)),
      if (strength) list(baseline_index = course(rows, log(rows$baseline_percent / 100), began, TRUE, 100)$at(horizons), reached_90 = reached(rows)))
  }
}
for (type in types) {
  began <- episodes[episodes$began & episodes$injury_type == type & !episodes$bilateral, ]
  home <- !is.na(began$return_day) & began$return_day <= as.integer(month_to - began$start)
  out[[paste0(type, "_returned_already")]] <- sapply(horizons, function(week) length(unique(began$person[home & began$return_day <= 7 * week])))
}
began <- episodes[episodes$began, ]
for (kind in c("strength", "girth")) {
  rows <- pairs[pairs$measure %in% measures$code[measures$kind == kind] & pairs$day >= 0, ]
  rows <- rows[pmax(rows$day, rows$uninvolved_day) <= day_limit(rows), ]
  paired <- began$episode %in% rows$episode
  out[[kind]] <- list(began = nrow(began), bilateral = sum(began$bilateral), pairs = sum(!began$bilateral & paired), no_pair = sum(!began$bilateral & !paired))
}
answer(out)
