# Dose and response on public data sets: quantiles, bands, thirds, the smooth
# curve with its tests, and the Emax curve by nls.
source("../lib.R")
packages("splines", "MASS", "sandwich")

# The Emax curve: "port" with bounds from a coarse start, then Gauss-Newton from
# there for the last digits, which port leaves out.
emax <- function(d, X, d1, d2) {
  p <- ncol(X)
  coarse <- expand.grid(ed50 = quantile(d$dose[d$dose > 0], c(.1, .5, .9)) * c(.5, 1, 2))$ed50
  rss <- sapply(coarse, function(k) sum(resid(lm(d$y ~ 0 + X + I(d$dose / (k + d$dose))))^2))
  k <- unname(coarse[which.min(rss)])
  b <- unname(coef(lm(d$y ~ 0 + X + I(d$dose / (k + d$dose)))))
  from <- list(g = b[1:p], emax = b[p + 1], ed50 = k)
  y <- d$y; dose <- d$dose
  # With its exact gradient, or nls would stop at that of its differences.
  curve <- function(g, emax, ed50) structure(as.vector(X %*% g) + emax * dose / (ed50 + dose),
    gradient = cbind(X, dose / (ed50 + dose), -emax * dose / (ed50 + dose)^2))
  f <- y ~ curve(g, emax, ed50)
  port <- nls(f, start = from, algorithm = "port", lower = c(rep(-Inf, p + 1), 1e-6),
              upper = c(rep(Inf, p + 1), 10 * max(dose)))
  from <- list(g = unname(coef(port)[1:p]), emax = coef(port)[["emax"]], ed50 = coef(port)[["ed50"]])
  fit <- nls(f, start = from, control = nls.control(tol = 1e-9, maxiter = 50, minFactor = 1e-9, warnOnly = TRUE))
  stopifnot("nls is not at its minimum" = fit$convInfo$finTol < 1e-8)
  J <- fit$m$gradient()
  V <- vcov(fit)
  e <- coef(fit)[["emax"]]; k <- coef(fit)[["ed50"]]
  w <- c(rep(0, p), d1 / (k + d1) - d2 / (k + d2), -e * (d1 / (k + d1)^2 - d2 / (k + d2)^2))
  se <- sqrt(c(w %*% V %*% w))
  value <- e * (d1 / (k + d1) - d2 / (k + d2))
  # The tangent at the solution gives the variance robust to unequal spread.
  tangent <- lm(I(y - fitted(fit) + as.vector(J %*% coef(fit))) ~ 0 + J)
  list(coef = coef(fit), se = sqrt(diag(V)), sigma = sigma(fit), aic = AIC(fit), loglik = as.numeric(logLik(fit)),
       hc3 = sqrt(diag(vcovHC(tangent, type = "HC3"))), d1 = d1, d2 = d2, value = value, error = se,
       low = value - qt(.975, df.residual(fit)) * se, high = value + qt(.975, df.residual(fit)) * se)
}

curves <- function(name, y, dose, X = matrix(1, length(y), 1), edges, smooth = TRUE, levelling = TRUE) {
  d <- data.frame(y = y, dose = dose)
  out <- cbind(d, X); names(out) <- c("y", "dose", paste0("x", seq_len(ncol(X))))
  put_data(out, paste0("curves_", name, ".csv"))
  q <- quantile(dose, c(0, .1, .25, 1 / 3, .5, 2 / 3, .75, .9, 1), names = FALSE)
  third <- t.test(y[dose > q[6]], y[dose <= q[4]], conf.level = 0.9)
  band <- cut(dose, edges, right = FALSE, include.lowest = TRUE)
  tests <- tapply(y, band, t.test, simplify = FALSE)
  res <- list(quantile = q, edges = edges,
              bands = list(n = as.vector(table(band)), mean = sapply(tests, function(t) t$estimate), se = sapply(tests, function(t) t$stderr),
                           low = sapply(tests, function(t) t$conf.int[1]), high = sapply(tests, function(t) t$conf.int[2]),
                           median = as.vector(tapply(dose, band, median))),
              thirds = c(third$estimate[1] - third$estimate[2], third$stderr, third$conf.int, sum(dose > q[6]) + sum(dose <= q[4])))
  if (levelling) res$emax <- emax(d, X, q[7], q[3])
  if (smooth) {
    B <- ns(dose, knots = quantile(dose, c(.1, .5, .9)), Boundary.knots = range(dose))
    fit <- lm(y ~ 0 + X + B); straight <- lm(y ~ 0 + X + dose); none <- lm(y ~ 0 + X)
    w <- c(rep(0, ncol(X)), predict(B, q[7]) - predict(B, q[3]))
    ci <- sum(w * coef(fit)); se <- sqrt(c(w %*% vcov(fit) %*% w))
    relation <- anova(none, fit); curvature <- anova(straight, fit)
    res$smooth <- list(knots = attr(B, "knots"), boundary = range(dose), quartiles = ci, error = se, aic = AIC(fit),
                       relation = c(relation$F[2], relation$Df[2], relation$Res.Df[2], relation$`Pr(>F)`[2]),
                       curvature = c(curvature$F[2], curvature$Df[2], curvature$Res.Df[2], curvature$`Pr(>F)`[2]))
  }
  res
}

P <- Puromycin
D <- DNase
A <- airquality[complete.cases(airquality), ]
few <- function(...) curves(..., smooth = FALSE) # too few different doses for the smooth curve
out <- list(
  puromycin = few("puromycin", P$rate, P$conc, model.matrix(~ state, P), edges = c(0, 0.1, 0.5, 2)),
  dnase = few("dnase", D$density, D$conc, edges = c(0, 0.3, 2, 13)),
  loblolly = few("loblolly", Loblolly$height, Loblolly$age, edges = c(3, 6, 15, 25)),
  bod = few("bod", c(8.3, 10.3, 19, 16, 15.6, 19.8), c(1:5, 7), edges = c(1, 3, 5, 7)),
  airquality = curves("airquality", A$Ozone, A$Wind, model.matrix(~ Temp, A), edges = c(2, 8, 11, 21)),
  iris = curves("iris", iris$Petal.Width, iris$Petal.Length, model.matrix(~ Sepal.Width, iris), edges = c(1, 2, 4, 5, 7)),
  mtcars = curves("mtcars", mtcars$mpg, mtcars$hp, edges = c(50, 100, 150, 400)),
  wtloss = curves("wtloss", wtloss$Weight, wtloss$Days, edges = c(0, 60, 120, 246)),
  # These do not level off.
  faithful = curves("faithful", faithful$waiting, faithful$eruptions, edges = c(1.5, 2, 3, 4, 5.5), levelling = FALSE),
  trees = curves("trees", trees$Volume, trees$Girth, cbind(1, trees$Height), edges = c(8, 11, 13, 21), levelling = FALSE),
  cars = curves("cars", cars$dist, cars$speed, edges = c(4, 10, 15, 20, 25), levelling = FALSE)
)
answer(out)
