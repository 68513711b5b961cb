# Limits of u, p and g charts from R's quantile functions.
source("../lib.R")
packages("MASS", "boot", "survival", "datasets")

half <- function(x) seq_along(x) <= length(x) / 2  # the first half is the baseline
u_sets <- list(
  discoveries = data.frame(events = as.integer(discoveries), exposure = 1),
  aids = with(aggregate(y ~ year + quarter, aids, sum), data.frame(events = y, exposure = 0.25)),
  coal = data.frame(events = as.vector(table(factor(floor(coal$date), 1851:1962))), exposure = 1),
  vans = data.frame(events = as.integer(Seatbelts[, "VanKilled"]), exposure = as.integer(Seatbelts[, "kms"]) / 1000),
  sprays = with(InsectSprays, data.frame(events = count, exposure = 1)),
  epil = with(aggregate(y ~ subject, epil, sum), data.frame(events = y, exposure = 8)))
p_sets <- list(
  esoph = with(esoph, data.frame(with = ncases, n = ncases + ncontrols)),
  menarche = with(menarche, data.frame(with = Menarche, n = Total)),
  bacteria = with(bacteria, data.frame(with = as.vector(tapply(y == "y", ID, sum)), n = as.vector(table(ID)))),
  admissions = data.frame(with = as.vector(UCBAdmissions[1, , ]), n = as.vector(apply(UCBAdmissions, c(2, 3), sum))),
  lung = with(subset(lung, !is.na(inst)), data.frame(with = as.vector(tapply(status == 2, inst, sum)), n = as.vector(table(inst)))),
  budworm = data.frame(with = c(1, 4, 9, 13, 18, 20, 0, 2, 6, 10, 12, 16), n = 20))
# Days between disasters, hours between failures, and the like, as whole gaps.
g_sets <- list(
  coal = as.integer(diff(coal$date) * 365.25),
  aircondit = as.integer(aircondit$hours),
  aircondit7 = as.integer(aircondit7$hours),
  rivers = as.integer(rivers),
  precip = as.integer(precip),
  remission = as.integer(leuk$time))

u <- function(d, level) {
  base <- d[half(d$events), ]
  mu <- d$exposure * sum(base$events) / sum(base$exposure)
  tail <- (1 - level) / 2
  list(centre = sum(base$events) / sum(base$exposure),
       low = qnbinom(tail, size = sum(base$events), mu = mu) / d$exposure,
       high = qnbinom(1 - tail, size = sum(base$events), mu = mu) / d$exposure)
}
p <- function(d, level) {
  base <- d[half(d$n), ]
  share <- sum(base$with) / sum(base$n)
  tail <- (1 - level) / 2
  list(centre = share, low = qbinom(tail, d$n, share) / d$n, high = qbinom(1 - tail, d$n, share) / d$n)
}
# P(G <= g) of the beta-geometric, summed from its probabilities.
g <- function(gaps, level) {
  base <- gaps[half(gaps)]
  a <- length(base)
  b <- sum(base)
  x <- 0:(200 * max(gaps))
  cdf <- cumsum(exp(lbeta(a + 1, b + x) - lbeta(a, b)))
  at <- function(p) x[which(cdf >= p)[1]]
  list(events = a, sessions = a + b, centre = at(0.5), low = at((1 - level) / 2), high = at((1 + level) / 2))
}
for (n in names(u_sets)) put_data(u_sets[[n]], paste0("charts_u_", n, ".csv"))
for (n in names(p_sets)) put_data(p_sets[[n]], paste0("charts_p_", n, ".csv"))
for (n in names(g_sets)) put_data(data.frame(gap = g_sets[[n]]), paste0("charts_g_", n, ".csv"))
answer(list(u = lapply(u_sets, u, 0.99), p = lapply(p_sets, p, 0.99), g = lapply(g_sets, g, 0.95)))
