# Heel raises, which can be zero: the typical difference of the two sides in
# percent of the other side at baseline, by a linear mixed model averaged over
# those who began; the share that does none; and both limbs beside their own
# baselines where both are involved. Made-up people.
source("../lib.R")
packages("lme4", "lmerTest", "splines", "sandwich")

set.seed(20)
n <- 48
own <- rnorm(n, 0, 0.18)
other <- sample(18:27, n, replace = TRUE)
site <- rep(c("north", "south"), length.out = n)
severity <- rep(c("mild", "mild", "severe"), length.out = n)
d <- do.call(rbind, lapply(1:n, function(i) {
  weeks <- c(0, 3, 6, 9, 12, 14)[runif(6) < c(1, 0.9, 0.9, 0.85, 0.8, 0.7)]
  share <- 1 - 0.95 * exp(-weeks / 14) + own[i] - 0.12 * (severity[i] == "severe") + rnorm(length(weeks), 0, 0.08)
  now <- pmax(0, other[i] + round(rnorm(length(weeks))))
  data.frame(episode = i, site = site[i], severity = severity[i], day = 7 * weeks + sample(0:2, length(weeks), replace = TRUE) * (weeks > 0),
    involved = pmax(0, round(now * share)), uninvolved = now, baseline = now[1])
}))
put_data(d, "raises.csv")

d$y <- 100 * (d$involved - d$uninvolved) / d$baseline
d$week <- d$day / 7
d$site <- factor(d$site)
d$severity <- factor(d$severity)
edges <- c(0, 16) # the even weeks within two weeks of which ten people were measured
basis <- function(week) ns(week, knots = c(4, 10), Boundary.knots = edges)
d$curve <- basis(d$week)
model <- lmer(y ~ site + severity + curve + (1 + week | episode), d, control = lmerControl(calc.derivs = FALSE,
  optCtrl = list(xtol_rel = 1e-14, xtol_abs = 1e-14, ftol_rel = 1e-14, ftol_abs = 1e-14, maxeval = 100000)))
people <- d[!duplicated(d$episode), ]
mix <- model.matrix(~ site + severity, people)
given <- c(mix %*% fixef(model)[1:3])
drawn <- c(vcovCL(lm(given ~ 1), cluster = people$episode, type = "HC0", cadjust = TRUE))
typical <- function(week) {
  e <- contest1D(model, c(colMeans(mix), basis(week)))
  own <- e$`Std. Error`^2
  se <- sqrt(own + drawn)
  half <- qt(0.975, se^4 / (own^2 / e$df + drawn^2 / (n - 1))) * se
  c(e$Estimate, se, e$Estimate - half, e$Estimate + half)
}

# The share near week 6 that does none: score limits with the quantile of t, of as
# many trials as the variance by person is worth.
near <- d[d$day >= 28 & d$day <= 56, ]
near <- near[order(near$episode, abs(near$day - 42), near$day), ]
near <- near[!duplicated(near$episode), ]
p <- mean(near$involved == 0)
variance <- c(vcovCL(lm(I(involved == 0) ~ 1, near), cluster = near$episode, type = "HC0", cadjust = TRUE))
size <- nrow(near) / max(1, variance * nrow(near) / (p * (1 - p)))
t <- qt(0.975, nrow(near) - 1)
limit <- function(from, to) uniroot(function(x) (p - x)^2 - t^2 * x * (1 - x) / size, c(from, to), tol = 1e-15)$root

# Both limbs beside their own baselines, by one-sample t intervals.
both <- data.frame(episode = rep(1:14, each = 2), limb = c("worse", "other"), day = 84 + rep(sample(-9:9, 14, replace = TRUE), each = 2),
  baseline = round(runif(28, 300, 500)))
both$value <- round(both$baseline * exp(rnorm(28, ifelse(both$limb == "worse", 0.2, 0.08), 0.06)))
put_data(both, "both.csv")
limb <- function(which) {
  test <- t.test(log(both$value / both$baseline)[both$limb == which])
  100 * exp(c(test$estimate, test$conf.int))
}

answer(list(week_6 = typical(6), week_12 = typical(12), persons = n, at_zero = c(p, limit(1e-12, p), limit(p, 1 - 1e-12)),
  worse = limb("worse"), other = limb("other"), fixed = unname(fixef(model)), sd = as.data.frame(VarCorr(model))$sdcor))
