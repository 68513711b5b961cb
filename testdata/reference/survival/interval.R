# Interval-censored times: log-likelihood of the Turnbull curve, and Weibull
# regression with exact, right-, left- and interval-censored times.
source("../lib.R")
packages("survival")

# Data seen at visits every `every` days, until `until`.
seen <- function(time, event, every) {
  low <- every * (ceiling(time / every) - 1)
  data.frame(low = ifelse(event == 1, low, time), high = ifelse(event == 1, low + every, Inf))
}
put <- function(d, file) {
  d$high[is.infinite(d$high)] <- NA
  put_data(d, file)
}
turnbull <- function(d) {
  high <- ifelse(is.infinite(d$high), NA, d$high)
  fit <- survfit(Surv(d$low, high, type = "interval2") ~ 1)
  s <- stepfun(fit$time, c(1, fit$surv))
  # the curve jumps inside its intervals; exact times get the jump at them
  exact <- d$low == d$high
  upper <- ifelse(is.infinite(d$high), 0, s(d$high))
  lower <- ifelse(exact, s(d$low - 1e-7), s(d$low))
  list(loglik = sum(log(lower - upper)), n = nrow(d))
}
tight <- survreg.control(rel.tolerance = 1e-14, maxiter = 100)
weibull <- function(fit, x, times, var = fit$var) {
  fit$var <- var
  q <- predict(fit, newdata = x, type = "quantile", p = c(0.25, 0.5, 0.75), se.fit = TRUE)
  out <- list(coef = unname(coef(fit)), log_scale = log(fit$scale), var = fit$var, loglik = fit$loglik[2],
              x = unlist(x, use.names = FALSE), quantile = as.vector(q$fit), quantile_se = as.vector(q$se.fit))
  if (!is.null(fit$naive.var)) out$naive <- fit$naive.var
  # share by each time, and its error by the delta method on log -log S
  mm <- c(1, unlist(x, use.names = FALSE))
  z <- (log(times) - sum(mm * coef(fit))) / fit$scale
  d <- lapply(z, function(zi) c(-mm / fit$scale, -zi))
  out$times <- times
  out$share <- -expm1(-exp(z))
  out$share_se <- vapply(seq_along(z), function(i)
    sqrt(drop(d[[i]] %*% fit$var %*% d[[i]])) * exp(z[i]) * exp(-exp(z[i])), 0)
  out
}
# The variance by person, from the slope of each row's log-likelihood in the
# parameters, differentiated numerically: with intervals, the package's own
# score residuals are not those slopes (with exact times they are).
by_person <- function(fit, d, x, person, w = rep(1, nrow(d))) {
  x <- cbind(1, as.matrix(x))
  k <- ncol(x)
  rows <- function(theta) {
    eta <- drop(x %*% theta[1:k])
    f <- function(t) psurvreg(t, eta, exp(theta[k + 1]), "weibull")
    ifelse(d$low == d$high, log(dsurvreg(d$low, eta, exp(theta[k + 1]), "weibull")),
           log(ifelse(is.infinite(d$high), 1, f(pmin(d$high, 1e6))) - ifelse(d$low == 0, 0, f(pmax(d$low, 1e-6)))))
  }
  theta <- c(coef(fit), log(fit$scale))
  u <- vapply(seq_along(theta), function(j) {
    e <- replace(numeric(k + 1), j, 1e-3 * sqrt(fit$naive.var[j, j]))
    wide <- (rows(theta + 2 * e) - rows(theta - 2 * e)) / (4 * e[j])
    near <- (rows(theta + e) - rows(theta - e)) / (2 * e[j])
    (4 * near - wide) / 3
  }, numeric(nrow(d)))
  fit$naive.var %*% crossprod(rowsum(w * u, person)) %*% fit$naive.var
}
surv2 <- function(d) Surv(ifelse(d$low == 0, NA, d$low), ifelse(is.infinite(d$high), NA, d$high), type = "interval2")

l <- cbind(seen(lung$time, lung$status == 2, 28), lung[, c("age", "sex")])
put(l, "interval_lung.csv")
v <- cbind(seen(veteran$time, veteran$status, 14), veteran[, c("karno", "trt")])
put(v, "interval_veteran.csv")
o <- cbind(seen(ovarian$futime, ovarian$fustat, 60), ovarian[, c("age", "rx")])
put(o, "interval_ovarian.csv")
# bladder: recurrences of one person, visits every three months
b <- bladder2[bladder2$stop > bladder2$start, ]
b <- cbind(seen(b$stop - b$start, b$event, 3), b[, c("rx", "number", "id")])
put(b, "interval_bladder.csv")
# exact times and censored ones, no intervals
k <- data.frame(low = kidney$time, high = ifelse(kidney$status == 1, kidney$time, Inf), kidney[, c("age", "sex", "id")])
put(k, "interval_kidney.csv")
# inspections of turbine wheels: only before or after the time of inspection
u <- do.call(rbind, lapply(seq_len(nrow(turbine)), function(i) {
  failed <- rep(c(TRUE, FALSE), c(turbine$failed[i], turbine$inspected[i] - turbine$failed[i]))
  data.frame(low = ifelse(failed, 0, turbine$hours[i]), high = ifelse(failed, turbine$hours[i], Inf))
}))
put(u, "interval_turbine.csv")
# exact, left-, right- and interval-censored times together, with weights
mix <- data.frame(low = pbc$time, high = ifelse(pbc$status == 2, pbc$time, Inf), age = pbc$age, edema = pbc$edema,
                  w = 0.5 + (pbc$id %% 3) / 2)
part <- pbc$id %% 4
mix$high[pbc$status == 2 & part == 1] <- 365 * ceiling(pbc$time / 365)[pbc$status == 2 & part == 1]
mix$low[pbc$status == 2 & part == 1] <- 365 * floor(pbc$time / 365)[pbc$status == 2 & part == 1]
mix$low[pbc$status == 2 & part == 2] <- 0
put(mix, "interval_pbc.csv")

bladder_fit <- survreg(surv2(b) ~ rx + number, b, control = tight, cluster = id)
kidney_fit <- survreg(surv2(k) ~ age + sex, k, control = tight, cluster = id)
stopifnot(all.equal(by_person(kidney_fit, k, k[, c("age", "sex")], k$id), kidney_fit$var, check.attributes = FALSE))
pbc_fit <- survreg(surv2(mix) ~ age + edema, mix, control = tight, weights = w, robust = TRUE)

answer(list(
  turnbull = list(lung = turnbull(l), veteran = turnbull(v), ovarian = turnbull(o), bladder = turnbull(b),
                  kidney = turnbull(k), turbine = turnbull(u), pbc = turnbull(mix)),
  lung = weibull(survreg(surv2(l) ~ age + sex, l, control = tight),
                 data.frame(age = 60, sex = 1), c(84, 182, 365)),
  veteran = weibull(survreg(surv2(v) ~ karno + trt, v, control = tight),
                 data.frame(karno = 50, trt = 2), c(28, 84)),
  ovarian = weibull(survreg(surv2(o) ~ age + rx, o, control = tight),
                 data.frame(age = 50, rx = 1), c(182, 365)),
  bladder = weibull(bladder_fit,
                 data.frame(rx = 1, number = 2), c(6, 12),
                 by_person(bladder_fit, b, b[, c("rx", "number")], b$id)),
  kidney = weibull(kidney_fit,
                 data.frame(age = 40, sex = 2), c(30, 182)),
  turbine = weibull(survreg(surv2(u) ~ 1, u, control = tight),
                 data.frame(none = 0)[, 0], c(15, 40)),
  pbc = weibull(pbc_fit,
                 data.frame(age = 55, edema = 0), c(365, 1825),
                by_person(pbc_fit, mix, mix[, c("age", "edema")], seq_len(nrow(mix)), mix$w))
))
