# Random effects by REML with the Hartung-Knapp interval. Debian has no package
# for it: the likelihood is maximised here, and the REML criterion that lme4
# computes, at a residual variance fixed at 1 with weights 1/se^2, gives Tau, the
# mean and the shrunken values once more, by other code. (nlme::lme with a fixed
# sigma misses the closed form of equal standard errors under REML.)
source("../lib.R")
packages("MASS", "boot", "nlme", "lme4")

means <- function(y, g) data.frame(value = as.vector(tapply(y, g, mean)),
  se = as.vector(sqrt(tapply(y, g, var) / tapply(y, g, length))))
slopes <- function(formula, data) {
  fits <- lapply(split(data, data$g), function(d) summary(lm(formula, d))$coefficients[2, 1:2])
  setNames(as.data.frame(do.call(rbind, fits)), c("value", "se"))
}
rates <- function(k, n) data.frame(value = log(k / n), se = 1 / sqrt(k))
sets <- list(
  gravity = with(gravity, means(g, series)),
  michelson = with(michelson, means(Speed, Expt)),
  dyestuff = with(Dyestuff, means(Yield, Batch)),
  sprays = with(InsectSprays, means(sqrt(count), spray)),
  sleep = slopes(y ~ x, with(sleepstudy, data.frame(y = Reaction, x = Days, g = as.character(Subject)))),
  orthodont = slopes(y ~ x, with(Orthodont, data.frame(y = distance, x = age, g = as.character(Subject)))),
  insurance = with(aggregate(cbind(Claims, Holders) ~ District, Insurance, sum), rates(Claims, Holders)),
  even = data.frame(value = c(1, 1.1, 0.9, 1.05, 0.95), se = c(0.5, 0.4, 0.6, 0.5, 0.5)))

by_lme4 <- function(y, v) {
  any <- lmerControl(check.nobs.vs.nlev = "ignore", check.nobs.vs.nRE = "ignore", check.nobs.vs.rankZ = "ignore")
  dev <- lmer(y ~ 1 + (1 | id), data.frame(y = y, id = seq_along(y)), weights = 1 / v, devFunOnly = TRUE, control = any)
  e <- environment(dev)
  criterion <- function(theta) {
    dev(theta)
    e$pp$ldL2() + e$pp$ldRX2() + e$resp$wrss() + e$pp$sqrL(1)
  }
  theta <- optimize(criterion, c(0, 10 * sd(y)), tol = 1e-12)$minimum
  dev(theta)
  list(tau = theta, mean = e$pp$beta(1), shrunk = e$pp$beta(1) + e$pp$b(1))
}

pool <- function(d, level = 0.95) {
  y <- d$value
  v <- d$se^2
  k <- length(y)
  parts <- function(t2) {
    w <- 1 / (v + t2)
    list(w = w, mu = sum(w * y) / sum(w))
  }
  score <- function(t2) with(parts(t2), sum(w^2 * (y - mu)^2) - sum(w) + sum(w^2) / sum(w))
  t2 <- if (score(0) <= 0) 0 else uniroot(score, c(0, 10 * var(y)), tol = 1e-18, maxiter = 10000)$root
  p <- parts(t2)
  se <- sqrt(sum(p$w * (y - p$mu)^2) / (k - 1) / sum(p$w))
  crit <- qt((1 + level) / 2, k - 1)
  keep <- t2 / (t2 + v)
  other <- by_lme4(y, v)
  list(tau = sqrt(t2), mean = p$mu, se = se, low = p$mu - crit * se, high = p$mu + crit * se,
       shrunk = p$mu + keep * (y - p$mu), shrunk_se = sqrt(keep * v + (1 - keep)^2 * se^2),
       lme4_tau = other$tau, lme4_mean = other$mean, lme4_shrunk = other$shrunk)
}
answers <- lapply(names(sets), function(name) pool(put_data(sets[[name]], paste0("pool_", name, ".csv"))))
names(answers) <- names(sets)
answer(answers)
