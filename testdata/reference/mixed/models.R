# Linear mixed models on public data sets: random intercept, intercept and
# slope, and nested groups, by REML and ML; two fits lie on the boundary.
# The optimiser stops several digits short of the minimum of the deviance, so
# its answer is carried there by a few Newton steps on lme4's own deviance.
source("../lib.R")
packages("lme4", "lmerTest", "nlme", "splines", "numDeriv")

control <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhobeg = 0.05, rhoend = 1e-9, maxfun = 1e5),
                       check.conv.singular = "ignore", calc.derivs = FALSE)

component <- function(f, group) {
  v <- as.matrix(VarCorr(f)[[group]])
  sd <- sqrt(diag(v))
  r <- if (nrow(v) == 2 && all(sd > 0)) v[1, 2] / sd[1] / sd[2] else 0
  list(sd = unname(c(sd, 0)[1:2]), corr = r)
}

# what the tests compare: the fit, contrasts of weights with the coefficients,
# and the effects of the groups with their errors.
model <- function(f, weights, group, above = NULL) {
  s <- summary(f)$coefficients
  curve <- do.call(rbind, lapply(seq_len(nrow(weights)), function(i)
    contest1D(f, weights[i, ], confint = TRUE, level = 0.95)))
  re <- as.data.frame(ranef(f, condVar = TRUE))
  effects <- function(g) {
    r <- re[re$grpvar == g, ]
    levels <- unique(as.character(r$grp))
    terms <- unique(as.character(r$term))
    m <- function(x) matrix(x, nrow = length(levels), dimnames = NULL)
    list(code = as.integer(levels), value = m(r$condval), sd = m(r$condsd))
  }
  out <- list(reml = as.integer(isREML(f)), coef = s[, "Estimate"], se = s[, "Std. Error"], df = s[, "df"],
              vcov = as.matrix(vcov(f)), sigma = sigma(f), loglik = as.numeric(logLik(f)),
              rows = nobs(f), groups = ngrps(f)[[group]], component = component(f, group), effects = effects(group),
              weights = weights, value = curve$Estimate, error = curve$`Std. Error`, dof = curve$df,
              low = curve$lower, high = curve$upper, t = curve$`t value`, p = curve$`Pr(>|t|)`)
  if (!is.null(above)) out$above <- list(groups = ngrps(f)[[above]], component = component(f, above), effects = effects(above))
  out
}

# Designs go out as columns x1, x2, ...; groups as whole numbers.
put <- function(name, y, X, g, slope = NULL, above = NULL, aboveslope = NULL) {
  d <- data.frame(y = y, X, g = g)
  names(d) <- c("y", paste0("x", seq_len(ncol(X))), "g")
  d$s <- slope; d$above <- above; d$aboves <- aboveslope
  put_data(d, paste0("models_", name, ".csv"))
  d
}
code <- function(f) as.integer(factor(as.character(f), levels = unique(as.character(f))))

# lmer fitted on the columns themselves. Parameters on the boundary stay there.
fit <- function(d, random, reml = TRUE) {
  x <- grep("^x", names(d), value = TRUE)
  formula <- as.formula(paste("y ~ 0 +", paste(x, collapse = "+"), "+", random))
  f <- lmer(formula, d, REML = reml, control = control)
  deviance <- lmer(formula, d, REML = reml, devFunOnly = TRUE)
  theta <- getME(f, "theta")
  theta[getME(f, "lower") == 0 & theta < 1e-4] <- 0
  free <- which(theta != 0)
  along <- function(x) { theta[free] <- x; deviance(theta) }
  if (length(free) > 0) for (k in 1:4)
    theta[free] <- theta[free] - solve(hessian(along, theta[free]), grad(along, theta[free]))
  lmer(formula, d, REML = reml, control = lmerControl(optimizer = NULL, calc.derivs = FALSE,
    check.conv.singular = "ignore"), start = theta)
}

out <- list()

d <- put("sleepstudy", sleepstudy$Reaction, model.matrix(~ Days, sleepstudy), code(sleepstudy$Subject), sleepstudy$Days)
W <- rbind(c(1, 0), c(1, 5), c(0, 9))
out$sleepstudy <- model(fit(d, "(s | g)"), W, "g")
out$sleepstudy_ml <- model(fit(d, "(s | g)", FALSE), W, "g")
out$sleepstudy_intercept <- model(fit(d, "(1 | g)"), W, "g")

X <- cbind(1, ns(sleepstudy$Days, knots = c(2, 5), Boundary.knots = c(0, 9)))
d <- put("sleepspline", sleepstudy$Reaction, X, code(sleepstudy$Subject), sleepstudy$Days)
at <- cbind(1, ns(c(0, 1, 4, 8), knots = c(2, 5), Boundary.knots = c(0, 9)))
out$sleepspline <- model(fit(d, "(s | g)"), unname(at[, ]), "g")

O <- as.data.frame(Orthodont)
d <- put("orthodont", O$distance, model.matrix(~ age * Sex, O), code(O$Subject), O$age)
W <- rbind(c(1, 8, 0, 0), c(1, 14, 1, 14), c(1, 11, 11 / 27, 11 * 11 / 27), c(0, 0, 1, 11))
out$orthodont <- model(fit(d, "(s | g)"), W, "g")
out$orthodont_ml <- model(fit(d, "(s | g)", FALSE), W, "g")

O <- as.data.frame(Oxboys)
d <- put("oxboys", O$height, model.matrix(~ age + I(age^2), O), code(O$Subject), O$age)
out$oxboys <- model(fit(d, "(s | g)"), rbind(c(1, 0.5, 0.25), c(0, 1, 0)), "g")

O <- as.data.frame(BodyWeight)
d <- put("bodyweight", O$weight, model.matrix(~ Time * Diet, O), code(O$Rat), O$Time)
out$bodyweight <- model(fit(d, "(s | g)"), rbind(c(1, 30, .25, .25, 7.5, 7.5), c(0, 0, 1, 0, 30, 0)), "g")

# Dropped out chicks: unequal numbers of rows.
O <- as.data.frame(ChickWeight)
X <- cbind(1, ns(O$Time, knots = c(6, 14), Boundary.knots = c(0, 21)), model.matrix(~ Diet, O)[, -1])
d <- put("chickweight", O$weight, X, code(O$Chick), O$Time)
at <- cbind(1, ns(c(0, 10, 21), knots = c(6, 14), Boundary.knots = c(0, 21)), .2, .2, .2)
out$chickweight <- model(fit(d, "(s | g)"), unname(at[, ]), "g")

d <- put("rail", Rail$travel, matrix(1, nrow(Rail), 1), code(Rail$Rail))
out$rail <- model(fit(d, "(1 | g)"), matrix(1), "g")
out$rail_ml <- model(fit(d, "(1 | g)", FALSE), matrix(1), "g")

# Its variance between batches is estimated as zero.
d <- put("dyestuff2", Dyestuff2$Yield, matrix(1, nrow(Dyestuff2), 1), code(Dyestuff2$Batch))
out$dyestuff2 <- model(fit(d, "(1 | g)"), matrix(1), "g")

# Intercept and slope of the lots are estimated as completely correlated.
O <- as.data.frame(IGF)
d <- put("igf", O$conc, model.matrix(~ age, O), code(O$Lot), O$age)
out$igf <- model(fit(d, "(s | g)"), rbind(c(1, 10), c(0, 20)), "g")

d <- put("cake", cake$angle, model.matrix(~ recipe + temp, cake), code(interaction(cake$recipe, cake$replicate)), cake$temp)
out$cake <- model(fit(d, "(1 | g)"), rbind(c(1, 1 / 3, 1 / 3, 200), c(0, 1, 0, 0)), "g")

d <- put("pastes", Pastes$strength, matrix(1, nrow(Pastes), 1), code(Pastes$sample), above = code(Pastes$batch))
out$pastes <- model(fit(d, "(1 | above) + (1 | g)"), matrix(1), "g", "above")
out$pastes_ml <- model(fit(d, "(1 | above) + (1 | g)", FALSE), matrix(1), "g", "above")

O <- as.data.frame(Oats)
d <- put("oats", O$yield, model.matrix(~ nitro, O), code(paste(O$Block, O$Variety)), above = code(O$Block))
out$oats <- model(fit(d, "(1 | above) + (1 | g)"), rbind(c(1, 0.3), c(0, 0.6)), "g", "above")

# A slope per dog, a level per side of the dog.
O <- as.data.frame(Pixel)
O <- O[order(O$Side, O$day), ] # rows of a group apart
d <- put("pixel", O$pixel, model.matrix(~ day + I(day^2), O), code(paste(O$Dog, O$Side)), above = code(O$Dog), aboveslope = O$day)
out$pixel <- model(fit(d, "(aboves | above) + (1 | g)"), rbind(c(1, 10, 100), c(0, 1, 20)), "g", "above")

# Slopes at both levels: an episode of care in a person, made up.
set.seed(20240501)
person <- rep(1:40, times = rep(c(1, 2, 3, 2), 10))
episode <- rep(seq_along(person), each = 5); above <- rep(person, each = 5)
week <- rep(c(0, 2, 5, 9, 14), length(person)) + round(runif(length(episode)), 2)
y <- 80 + 1.2 * week + rnorm(40, 0, 6)[above] + rnorm(40, 0, .5)[above] * week +
  rnorm(length(person), 0, 4)[episode] + rnorm(length(person), 0, .7)[episode] * week + rnorm(length(week), 0, 3)
d <- put("episodes", y, cbind(1, week), episode, week, above, week)
out$episodes <- model(fit(d, "(aboves | above) + (s | g)"), rbind(c(1, 6), c(0, 12)), "g", "above")

answer(out)
