# Columns of ns() with given knots, inside, at and outside the boundary, with
# and without intercept, on the covariates of seven public data sets.
source("../lib.R")
packages("splines", "MASS", "nlme", "lme4", "boot")

basis <- function(x, knots, boundary, intercept, at) {
  b <- ns(x, knots = knots, Boundary.knots = boundary, intercept = intercept)
  list(knots = knots, boundary = boundary, intercept = as.integer(intercept), at = at,
       design = unclass(b)[, ], outside = unclass(predict(b, at))[, ])
}
both <- function(name, x, knots, boundary, at) {
  put_data(data.frame(x = x), paste0("natural_", name, ".csv"))
  list(plain = basis(x, knots, boundary, FALSE, at), constant = basis(x, knots, boundary, TRUE, at))
}

out <- list(
  # The weeks of care of a course of treatment: knots 4 and 10.
  weeks = both("weeks", c(0, 1, 2, 3.5, 4, 6, 9.9, 10, 12, 20, 26), c(4, 10), c(0, 26), c(-2, 26.0001, 30, 60)),
  mcycle = both("mcycle", unique(mcycle$times), c(10, 16, 25, 40), c(2.4, 57.6), c(-10, 0, 60)),
  women = both("women", women$height, 65, c(58, 72), c(50, 75)),
  cars = both("cars", unique(cars$speed), c(10, 15, 21), c(5, 22), c(0, 30)),
  oats = both("oats", unique(Oats$nitro), c(0.2, 0.3), c(0, 0.6), c(-0.1, 0.7)),
  sleep = both("sleep", unique(sleepstudy$Days), c(2, 4, 6), c(0, 9), c(-1, 15)),
  chicks = both("chicks", unique(ChickWeight$Time), numeric(0), c(0, 21), c(-1, 42)),
  motor = both("motor", unique(motor$times), quantile(motor$times, c(.1, .5, .9), names = FALSE), range(motor$times), c(0, 100))
)
answer(out)
