# Tests and differences between groups.
source("../lib.R")
packages("survival", "cmprsk")

# Groups are written as the numbers of their levels.
put_groups <- function(df, file) {
  df[] <- lapply(df, function(x) if (is.factor(x)) as.integer(x) else x)
  put_data(df, file)
}

logrank <- function(fit) {
  sums <- function(x) if (is.matrix(x)) rowSums(x) else x
  list(observed = sums(fit$obs), expected = sums(fit$exp), chisq = fit$chisq,
       df = sum(sums(fit$exp) > 0) - 1, p = pchisq(fit$chisq, sum(sums(fit$exp) > 0) - 1, lower.tail = FALSE))
}

put_groups(lung[, c("time", "status", "sex", "ph.ecog", "inst")], "groups_lung.csv")
l <- lung[!is.na(lung$ph.ecog), ]
put_groups(veteran[, c("time", "status", "celltype", "trt")], "groups_veteran.csv")
put_groups(ovarian[, c("futime", "fustat", "rx")], "groups_ovarian.csv")
cd <- colon[colon$etype == 2, ]
put_groups(cd[, c("time", "status", "rx", "differ")], "groups_colon.csv")
put_groups(kidney[, c("time", "status", "disease", "sex")], "groups_kidney.csv")
put_groups(pbc[, c("time", "status", "stage", "sex")], "groups_pbc.csv")
p <- pbc[!is.na(pbc$stage), ]
m <- transform(mgus2, etime = ifelse(pstat == 0, futime, ptime), cause = ifelse(pstat == 0, 2 * death, 1))
put_groups(m[, c("etime", "cause", "sex")], "groups_mgus2.csv")
t2 <- transplant[transplant$futime > 0, ]
t2$cause <- match(as.character(t2$event), c("ltx", "death", "withdraw"), nomatch = 0L)
t2$year2 <- t2$year >= 1995
put_groups(t2[, c("futime", "cause", "abo", "year2")], "groups_transplant.csv")

gray <- function(time, cause, group, ..., which = 1) {
  code <- ifelse(cause == 0, 0, ifelse(cause == which, 1, 2))
  out <- cuminc(time, code, group, ...)$Tests["1", ]
  list(stat = out[["stat"]], df = out[["df"]], p = out[["pv"]])
}

# Differences of restricted means and shares: two fits, variances added.
between <- function(formula, data, at) {
  f <- survfit(formula, data)
  tab <- summary(f, rmean = at)$table
  s <- summary(f, times = at)
  list(at = at, mean = tab[1, "rmean"] - tab[2, "rmean"],
       mean_se = sqrt(sum(tab[, "se(rmean)"]^2)),
       share = s$surv[1] - s$surv[2], share_se = sqrt(sum(s$std.err^2)))
}
# The same persons in both groups: influences joined by person.
put_groups(bladder[, c("id", "stop", "event", "enum")], "groups_bladder.csv")
of <- function(k) survfit(Surv(stop, event) ~ 1, bladder, subset = enum == k, cluster = id, influence = TRUE)
a <- of(1)
b <- of(2)
paired <- function(at) {
  area <- function(f) {
    keep <- f$time < at
    c(f$influence.surv[, keep] %*% diff(c(f$time[keep], at)))
  }
  point <- function(f) f$influence.surv[, max(which(f$time <= at))]
  stopifnot(identical(rownames(a$influence.surv), rownames(b$influence.surv)))
  mean_of <- function(f) sum(diff(c(0, f$time[f$time < at], at)) * c(1, f$surv[f$time < at]))
  list(at = at, mean = mean_of(a) - mean_of(b), mean_se = sqrt(sum((area(a) - area(b))^2)),
       share = summary(a, times = at)$surv - summary(b, times = at)$surv,
       share_se = sqrt(sum((point(a) - point(b))^2)))
}

answer(list(
  lung_sex = logrank(survdiff(Surv(time, status) ~ sex, lung)),
  lung_ecog = logrank(survdiff(Surv(time, status) ~ ph.ecog, l)),
  lung_strata = logrank(survdiff(Surv(time, status) ~ sex + strata(ph.ecog), l)),
  veteran_cell = logrank(survdiff(Surv(time, status) ~ celltype, veteran)),
  veteran_strata = logrank(survdiff(Surv(time, status) ~ trt + strata(celltype), veteran)),
  ovarian = logrank(survdiff(Surv(futime, fustat) ~ rx, ovarian)),
  colon = logrank(survdiff(Surv(time, status) ~ rx, cd)),
  kidney = logrank(survdiff(Surv(time, status) ~ disease, kidney)),
  gray_mgus2 = gray(m$etime, m$cause, m$sex),
  gray_mgus2_death = gray(m$etime, m$cause, m$sex, which = 2),
  gray_transplant = gray(t2$futime, t2$cause, t2$abo),
  gray_transplant_strata = gray(t2$futime, t2$cause, t2$abo, strata = t2$year2, which = 2),
  gray_pbc = gray(p$time, p$status, p$stage),
  gray_pbc_death = gray(p$time, p$status, p$stage, which = 2),
  between_lung = between(Surv(time, status) ~ sex, lung, 365),
  between_ovarian = between(Surv(futime, fustat) ~ rx, ovarian, 700),
  paired_bladder = paired(24)
))
