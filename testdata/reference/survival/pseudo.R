# Pseudo-values of shares and of mean times, and regressions on them.
source("../lib.R")
packages("survival", "sandwich")

m <- transform(mgus2, etime = ifelse(pstat == 0, futime, ptime), cause = ifelse(pstat == 0, 2 * death, 1))
m <- m[!is.na(m$mspike), ]
m <- transform(m, male = as.integer(sex == "M"), old = as.integer(age >= 70), high = as.integer(mspike >= 1.5))
put_data(m[, c("id", "etime", "cause", "male", "old", "high")], "pseudo_mgus2.csv")
fit <- survfit(Surv(etime, factor(cause, 0:2)) ~ 1, data = m, id = id)

at <- function(horizon) {
  share <- pseudo(fit, times = horizon, type = "pstate")
  spent <- pseudo(fit, times = horizon, type = "auc")
  regression <- function(y) {
    model <- lm(y ~ male + old + high, data = m)
    list(coef = unname(coef(model)), se = unname(sqrt(diag(vcovHC(model, "HC0")))))
  }
  list(share1 = share[, 2], free = share[, 1], without1 = horizon - spent[, 2], spent0 = spent[, 1],
       share1_lm = regression(share[, 2]), without1_lm = regression(horizon - spent[, 2]))
}

answer(list(month120 = at(120), month240 = at(240)))
