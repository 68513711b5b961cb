# Usage: Rscript bench_survival.R FOLDER, which holds the columns as doubles.
# Prints a line a result: name, then numbers. Times are medians of three.
suppressPackageStartupMessages(library(survival))
dir <- commandArgs(TRUE)[1]
read <- function(name) {
  path <- file.path(dir, name)
  readBin(path, "double", file.size(path) / 8)
}
d <- data.frame(lapply(setNames(nm = c("time", "day", "event", "group", paste0("x", 1:6))), read))
say <- function(name, x) cat(name, sprintf("%.17g", x), "\n")
median_of <- function(name, call) {
  call <- substitute(call)
  times <- vapply(1:3, function(i) {
    gc()
    system.time(fit <<- eval(call, parent.frame(3)))[["elapsed"]]
  }, 0)
  say(name, median(times))
  fit
}
fit <- NULL
f <- median_of("cox_day_seconds", coxph(Surv(day, event) ~ x1 + x2 + x3 + x4 + x5 + x6, d, ties = "efron"))
say("cox_day", c(coef(f), sqrt(diag(vcov(f)))))
f <- median_of("cox_time_seconds", coxph(Surv(time, event) ~ x1 + x2 + x3 + x4 + x5 + x6, d, ties = "efron"))
say("cox_time", c(coef(f), sqrt(diag(vcov(f)))))
f <- median_of("km_day_seconds", survfit(Surv(day, event) ~ group, d, conf.type = "log-log"))
at <- c(42, 84, 182, 365)
said <- function(f) with(summary(f, times = at), rbind(surv, lower, upper))
say("km_day", said(f))
f <- median_of("km_time_seconds", survfit(Surv(time, event) ~ group, d, conf.type = "log-log"))
# By default R first joins times that differ in the eighth digit, hundreds among
# a million: for the values, it is told not to.
f <- survfit(Surv(time, event) ~ group, d, conf.type = "log-log", timefix = FALSE)
say("km_time", said(f))
