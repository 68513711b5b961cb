# Rates, their ratios and funnels from counts and exposures.
source("../lib.R")
packages("MASS", "boot", "survival", "stats")

sets <- list(
  ships = with(subset(ships, service > 0), data.frame(events = incidents, exposure = service)),
  insurance = with(Insurance, data.frame(events = Claims, exposure = Holders)),
  epil = with(aggregate(y ~ subject, epil, sum), data.frame(events = y, exposure = 8)),
  quine = with(quine, data.frame(events = Days, exposure = 1)),
  aids = with(aggregate(y ~ year + quarter, aids, sum), data.frame(events = y, exposure = 0.25)),
  sprays = with(InsectSprays, data.frame(events = count, exposure = 1)),
  pyears = with(aggregate(cbind(status == 2, futime) ~ age_band, transform(pbc, age_band = 10 * floor(age / 10), futime = time / 365.25), sum),
                data.frame(events = V1, exposure = futime)))

# Exact limits as R's tests give them, from the quantiles that they use.
garwood <- function(d, level) {
  out <- t(mapply(function(k, n) poisson.test(k, n, conf.level = level)$conf.int, d$events, d$exposure))
  list(low = out[, 1], high = out[, 2])
}
midp <- function(d, level) {
  tail <- (1 - level) / 2
  find <- function(f, lo, hi) uniroot(f, c(lo, hi), tol = 1e-15, maxiter = 5000)$root
  low <- sapply(d$events, function(k) if (k == 0) 0 else
    find(function(m) ppois(k, m, lower.tail = FALSE) + dpois(k, m) / 2 - tail, 0, k + 1))
  high <- sapply(d$events, function(k)
    find(function(m) ppois(k - 1, m) + dpois(k, m) / 2 - tail, k / 2, k + 10 * sqrt(k) + 20))
  list(low = low / d$exposure, high = high / d$exposure)
}
# Twice the smaller one-sided p-value.
central <- function(...) min(1, 2 * poisson.test(..., alternative = "less")$p.value,
                             2 * poisson.test(..., alternative = "greater")$p.value)
# Each row against the next one that has events.
ratio <- function(d, level) {
  pairs <- lapply(seq_len(nrow(d) - 1), function(i) if (d$events[i + 1] > 0) d[c(i, i + 1), ])
  pairs <- Filter(Negate(is.null), pairs)
  tests <- lapply(pairs, function(p) poisson.test(p$events, p$exposure, conf.level = level))
  list(value = sapply(tests, function(t) t$estimate), low = sapply(tests, function(t) t$conf.int[1]),
       high = sapply(tests, function(t) t$conf.int[2]), p = sapply(pairs, function(p) central(p$events, p$exposure)))
}
against <- function(d) {
  d$expected <- d$exposure * sum(d$events) / sum(d$exposure)
  list(expected = d$expected, p = mapply(function(k, e) central(k, e), d$events, d$expected))
}
# Spiegelhalter's spread on the square-root scale.
funnel <- function(d, winsor) {
  e <- d$exposure * sum(d$events) / sum(d$exposure)
  s2 <- 1 / (4 * e)
  z <- (sqrt(d$events / e) - 1) / sqrt(s2)
  q <- quantile(z, c(winsor, 1 - winsor))
  phi <- mean(pmin(pmax(z, q[1]), q[2])^2)
  i <- length(z)
  w <- 1 / s2
  tau <- sqrt(max(0, (i * phi - (i - 1)) / (sum(w) - sum(w^2) / sum(w))))
  size <- 1 / (2 * tau)^2
  limit <- function(p) if (tau == 0) qpois(p, e) else qnbinom(p, size = size, mu = e)
  list(z = z, phi = phi, tau = 2 * tau, low = limit(0.001), high = limit(0.999))
}

answers <- lapply(names(sets), function(name) {
  d <- put_data(sets[[name]], paste0("counts_", name, ".csv"))
  list(garwood95 = garwood(d, 0.95), garwood998 = garwood(d, 0.998), midp = midp(d, 0.95),
       ratio = ratio(d, 0.95), against = against(d), funnel = funnel(d, 0.1))
})
names(answers) <- names(sets)

expected <- c(0.01, 0.4, 1, 3.3, 8, 25.5, 120, 1000, 25000)
answers$limits <- list(
  expected = expected,
  low95 = qpois(0.025, expected), high95 = qpois(0.975, expected),
  low998 = qpois(0.001, expected), high998 = qpois(0.999, expected),
  spread_low = qnbinom(0.025, size = 1 / 0.2^2, mu = expected),
  spread_high = qnbinom(0.975, size = 1 / 0.2^2, mu = expected))
levels <- c(0.5, 0.9, 0.95, 0.998)
answers$none <- list(level = levels, upper = sapply(levels, function(l) poisson.test(0, conf.level = l)$conf.int[2]))
answer(answers)
