# Usage: Rscript bench_mixed.R FOLDER, which holds the columns as doubles.
# Prints a line a result: name, then numbers. The time is of one run, which is
# long enough.
suppressPackageStartupMessages(library(lme4))
dir <- commandArgs(TRUE)[1]
read <- function(name) {
  path <- file.path(dir, name)
  readBin(path, "double", file.size(path) / 8)
}
d <- data.frame(y = read("y"), x = read("x"), g = read("g"))
say <- function(name, x) cat(name, sprintf("%.17g", x), "\n")
invisible(gc())
say("slope_seconds", system.time(f <- lmer(y ~ x + (x | g), d, REML = TRUE))[["elapsed"]])
say("slope_fixed", c(fixef(f), sqrt(diag(as.matrix(vcov(f))))))
v <- VarCorr(f)$g
say("slope_spread", c(sigma(f), attr(v, "stddev"), attr(v, "correlation")[1, 2]))
say("slope_loglik", logLik(f))
