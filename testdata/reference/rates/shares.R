# Shares of people: Wilson and Clopper-Pearson.
source("../lib.R")
packages("MASS", "boot", "survival", "stats")

sets <- list(
  esoph = with(esoph, data.frame(with = ncases, n = ncases + ncontrols)),
  admissions = as.data.frame(t(apply(UCBAdmissions, c(2, 3), function(x) c(x[1], sum(x))) |> matrix(nrow = 2))),
  bacteria = as.data.frame(do.call(rbind, tapply(bacteria$y == "y", bacteria$ID, function(y) c(sum(y), length(y))))),
  lung = as.data.frame(do.call(rbind, tapply(lung$status == 2, lung$inst, function(y) c(sum(y), length(y))))),
  titanic = as.data.frame(t(apply(Titanic, 1:3, function(x) c(x[2], sum(x))) |> matrix(nrow = 2))),
  nodal = as.data.frame(do.call(rbind, tapply(nodal$r, list(nodal$stage, nodal$xray, nodal$grade), function(y) c(sum(y), length(y))))),
  menarche = with(menarche, data.frame(with = Menarche, n = Total)),
  large = data.frame(with = c(1, 50, 7, 999999, 400000, 3), n = c(1e6, 1e6, 1e5, 1e6, 1e6, 2e6)))

wilson <- function(k, n, level) prop.test(k, n, conf.level = level, correct = FALSE)$conf.int
answers <- lapply(names(sets), function(name) {
  d <- setNames(sets[[name]], c("with", "n"))
  d <- put_data(d[d$n > 0, ], paste0("shares_", name, ".csv"))
  limits <- function(f, level) {
    out <- t(mapply(f, d$with, d$n, MoreArgs = list(level)))
    list(low = out[, 1], high = out[, 2])
  }
  exact <- function(k, n, level) binom.test(k, n, conf.level = level)$conf.int
  w <- limits(function(k, n, level) suppressWarnings(wilson(k, n, level)), 0.95)
  list(wilson = w, exact95 = limits(exact, 0.95), exact99 = limits(exact, 0.99))
})
names(answers) <- names(sets)
answer(answers)
