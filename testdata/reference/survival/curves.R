# Kaplan-Meier and Aalen-Johansen curves with their variances, intervals,
# quantiles and restricted means, on eight data sets.
source("../lib.R")
packages("survival", "cmprsk")

# A fit as vectors: per time the counts, the share, its error and limits.
km <- function(fit, tau) {
  tab <- summary(fit, rmean = tau)$table
  q <- quantile(fit, c(0.25, 0.5, 0.75))
  list(time = fit$time, risk = fit$n.risk, event = fit$n.event, censor = fit$n.censor,
       surv = fit$surv, se = summary(fit, times = fit$time)$std.err,
       lower = fit$lower, upper = fit$upper,
       quantile = q$quantile, qlower = q$lower, qupper = q$upper,
       tau = tau, rmean = tab[["rmean"]], rse = tab[["se(rmean)"]])
}

put_data(lung[, c("time", "status", "sex")], "lung.csv")
lung_loglog <- km(survfit(Surv(time, status) ~ 1, lung, conf.type = "log-log"), 365)
lung_log <- km(survfit(Surv(time, status) ~ 1, lung, conf.type = "log"), 1022)
lung_plain <- km(survfit(Surv(time, status) ~ 1, lung, conf.type = "plain", conf.int = 0.9), 500)

put_data(aml[, c("time", "status")], "aml.csv")
aml_loglog <- km(survfit(Surv(time, status) ~ 1, aml, conf.type = "log-log"), 48)

put_data(veteran[, c("time", "status")], "veteran.csv")
veteran_loglog <- km(survfit(Surv(time, status) ~ 1, veteran, conf.type = "log-log"), 365)

put_data(ovarian[, c("futime", "fustat")], "ovarian.csv")
ovarian_loglog <- km(survfit(Surv(futime, fustat) ~ 1, ovarian, conf.type = "log-log"), 1000)

# The error of a restricted mean by person: the package prints Greenwood's, so
# the influence of each person on the curve is integrated instead.
by_person <- function(fit, influence, tau) {
  keep <- fit$time < tau
  width <- diff(c(fit$time[keep], tau))
  sqrt(sum((influence[, keep] %*% width)^2))
}

# Late entry, several rows a person: the counting-process form.
put_data(heart[, c("start", "stop", "event", "id")], "heart.csv")
heart_cluster <- km(survfit(Surv(start, stop, event) ~ 1, heart, cluster = id, conf.type = "log-log"), 900)

# Recurrences of the same person, each on its own clock.
put_data(bladder2[, c("start", "stop", "event", "id")], "bladder2.csv")
kmc <- function(fit, tau) {
  out <- km(fit, tau)
  out$rse <- by_person(fit, fit$influence.surv, tau)
  out
}
b2 <- transform(bladder2, gap = stop - start, w = 1 + (id %% 3) / 2)
b2 <- b2[b2$gap > 0, ]
bladder_cluster <- kmc(survfit(Surv(gap, event) ~ 1, b2, cluster = id, conf.type = "log-log",
                               influence = TRUE), 24)
bladder_weighted <- kmc(survfit(Surv(gap, event) ~ 1, b2, weights = w, cluster = id, conf.type = "log-log",
                                influence = TRUE), 24)

# Competing ends.
m <- transform(mgus2, etime = ifelse(pstat == 0, futime, ptime),
               cause = ifelse(pstat == 0, 2 * death, 1))
put_data(m[, c("etime", "cause", "age")], "mgus2.csv")
m$state <- factor(m$cause, 0:2, c("censor", "progression", "death"))
aj <- function(fit, tau) {
  states <- match(c("(s0)", setdiff(fit$states, "(s0)")), fit$states)
  tab <- summary(fit, rmean = tau)$table
  list(time = fit$time, risk = fit$n.risk[, states[1]],
       pstate = t(fit$pstate[, states]), se = t(fit$std.err[, states]),
       lower = t(fit$lower[, states]), upper = t(fit$upper[, states]),
       tau = tau, rmean = tab[states, "rmean"], rse = tab[states, "se(rmean)"])
}
mgus2_jackknife <- aj(survfit(Surv(etime, state) ~ 1, m, conf.type = "log-log", influence = TRUE), 120)
ci <- cuminc(m$etime, m$cause)
at <- timepoints(ci, c(12, 60, 120, 240))
mgus2_aalen <- list(at = c(12, 60, 120, 240), est = at$est, var = at$var)

# Competing ends from entry at an age, so that the risk set grows and shrinks.
m$from <- m$age
m$to <- m$age + pmax(m$etime, 0.5) / 12
m <- m[m$age >= 60, ]
mgus2_entry <- aj(survfit(Surv(from, to, state) ~ 1, m, id = seq_len(nrow(m)), conf.type = "log-log",
                          influence = TRUE, timefix = FALSE), 90)

# Competing ends with weights and pairs of rows as one person.
t2 <- transplant[transplant$futime > 0, c("futime", "event", "age")]
t2$cause <- match(as.character(t2$event), c("ltx", "death", "withdraw"), nomatch = 0L)
t2$pair <- (seq_len(nrow(t2)) + 1L) %/% 2L
t2$weight <- 0.5 + (seq_len(nrow(t2)) %% 4) / 2
put_data(t2[, c("futime", "cause", "pair", "weight")], "transplant.csv")
t2$state <- factor(t2$cause, 0:3, c("censor", "ltx", "death", "withdraw"))
fit <- survfit(Surv(futime, state) ~ 1, t2, weights = weight, id = seq_len(nrow(t2)), cluster = pair,
               conf.type = "log-log", influence = TRUE)
transplant_weighted <- aj(fit, 365)
# Several states: n.risk counts rows, so the weights are summed here; and with
# weights and clusters the package's error is not that of its influence (a row
# each before weighting, time 0 as first column), which is summed by pair here.
transplant_weighted$risk <- vapply(fit$time, function(t) sum(t2$weight[t2$futime >= t]), 0)
by_pair <- lapply(1:4, function(k) rowsum(t2$weight * fit$influence.pstate[, -1, k], t2$pair))
se <- vapply(by_pair, function(u) sqrt(colSums(u^2)), numeric(length(fit$time)))
band <- survival:::survfit_confint(fit$pstate, se, logse = FALSE, conf.type = "log-log", conf.int = 0.95)
transplant_weighted$se <- t(se)
transplant_weighted$lower <- t(band$lower)
transplant_weighted$upper <- t(band$upper)
transplant_weighted$rse <- vapply(by_pair, function(u) by_person(fit, u, 365), 0)

answer(list(
  lung_loglog = lung_loglog, lung_log = lung_log, lung_plain = lung_plain, aml = aml_loglog,
  veteran = veteran_loglog, ovarian = ovarian_loglog, heart = heart_cluster,
  bladder_cluster = bladder_cluster, bladder_weighted = bladder_weighted,
  mgus2 = mgus2_jackknife, mgus2_aalen = mgus2_aalen, mgus2_entry = mgus2_entry,
  transplant = transplant_weighted
))
