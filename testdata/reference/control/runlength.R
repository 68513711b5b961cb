# Run lengths of a Poisson CUSUM on a grid of 1/32 event: the same chain, solved
# as linear equations.
source("../lib.R")
packages("stats")
grid <- 32

# Transition matrix of one period, without the alarm.
move <- function(ratio, h, expected, level) {
  m <- round(h * grid)
  k <- round(grid * expected * (ratio - 1) / log(ratio))
  q <- matrix(0, m, m)
  for (s in 0:(m - 1)) for (count in 0:(ceiling(expected * level) + 60)) {
    to <- max(0, s + (if (ratio > 1) 1 else -1) * (count * grid - k))
    if (to < m) q[s + 1, to + 1] <- q[s + 1, to + 1] + dpois(count, expected * level)
  }
  q
}
answer_for <- function(ratio, h, expected, events, true = 1, periods = 40) {
  levels <- if (events == 0) true else {
    edges <- qgamma(seq(0, 1, length.out = 61), events, events)
    true * 60 * diff(pgamma(edges, events + 1, events))
  }
  m <- round(h * grid)
  start <- c(1, rep(0, m - 1))
  each <- lapply(levels, function(level) {
    steps <- lapply(expected, function(e) move(ratio, h, e, level))
    state <- start
    by <- numeric(periods)
    for (t in seq_len(periods)) {
      state <- state %*% steps[[(t - 1) %% length(steps) + 1]]
      by[t] <- 1 - sum(state)
    }
    # Beginning anew after each alarm: the stationary law at the start of a cycle.
    again <- lapply(steps, function(q) { q[, 1] <- q[, 1] + 1 - rowSums(q); q })
    whole <- Reduce(`%*%`, again)
    a <- t(diag(m) - whole)
    a[1, ] <- 1
    law <- solve(a, start)
    alarms <- 0
    for (i in seq_along(steps)) {
      alarms <- alarms + sum(law * (1 - rowSums(steps[[i]])))
      law <- as.vector(law %*% again[[i]])
    }
    list(by = by, alarms = alarms)
  })
  # Periods to the first alarm at the true level: from the last period of the
  # cycle backwards, L_i = 1 + Q_i L_(i+1).
  steps <- lapply(expected, function(e) move(ratio, h, e, true))
  n <- length(steps)
  product <- diag(m)
  constant <- rep(0, m)
  for (q in rev(steps)) {
    constant <- 1 + q %*% constant
    product <- q %*% product
  }
  wait <- solve(diag(m) - product, constant)[1]
  list(ratio = ratio, threshold = h, expected = expected, events = events, true = true,
       by = Reduce(`+`, lapply(each, `[[`, "by")) / length(levels),
       alarms = mean(sapply(each, `[[`, "alarms")), mean = wait)
}
answer(list(
  known = answer_for(2, 3, c(1, 1), 0),
  changed = answer_for(2, 3, c(1, 1), 0, true = 2),
  uneven = answer_for(1.5, 4, c(0.8, 2.1, 0), 0),
  fewer = answer_for(0.5, 2.5, c(1.5, 1.5), 0),
  learnt = answer_for(2, 3.5, c(1, 1.4), 30),
  learnt_fewer = answer_for(0.6, 3, c(2, 2), 48, true = 0.5)))
