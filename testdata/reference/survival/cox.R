# Proportional hazards models: coefficients, variances, tests, baselines,
# predicted curves, proportionality, concordance.
source("../lib.R")
packages("survival")

# Everything that is compared, for a fit without clusters or with.
said <- function(fit, at, x, zph = TRUE) {
  s <- summary(fit)
  out <- list(
    coef = unname(coef(fit)), var = fit$var, loglik = fit$loglik,
    wald = unname(fit$wald.test), score = fit$score, n = fit$n, nevent = fit$nevent,
    concordance = unname(fit$concordance["concordance"]), concordance_se = unname(fit$concordance["std"]))
  if (!is.null(fit$naive.var)) {
    out$naive <- fit$naive.var
    out$rscore <- fit$rscore
  }
  if (zph) for (clock in c("km", "identity")) {
    z <- cox.zph(fit, transform = clock, terms = FALSE)$table
    out[[paste0("zph_", clock)]] <- z[, "chisq"]
    out[[paste0("zph_", clock, "_p")]] <- z[, "p"]
  }
  if (!is.null(x)) {
    curve <- summary(survfit(fit, newdata = x, conf.type = "log-log"), times = at, extend = TRUE)
    out$at <- at
    out$x <- as.matrix(x)
    out$surv <- curve$surv
    out$se <- curve$std.err
    out$lower <- curve$lower
    out$upper <- curve$upper
  }
  out
}

# lung: whole days, ties, a missing value
l <- lung[complete.cases(lung[, c("ph.ecog", "age", "sex")]), c("time", "status", "age", "sex", "ph.ecog", "inst")]
l$inst[is.na(l$inst)] <- 99
l$status <- l$status - 1
put_data(l, "cox_lung.csv")
f1 <- coxph(Surv(time, status) ~ age + sex + ph.ecog, l)
f2 <- coxph(Surv(time, status) ~ age + sex + ph.ecog, l, ties = "breslow")
nd <- data.frame(age = 60, sex = 2, ph.ecog = 1)
lung_efron <- said(f1, c(1, 100, 365, 700), nd)
b <- basehaz(f1, centered = FALSE)
lung_efron$base_time <- b$time
lung_efron$base <- b$hazard
lung_efron$expected <- predict(f1, newdata = l, type = "expected")
lung_efron$standard <- rowMeans(summary(survfit(f1, newdata = l), times = c(100, 365, 700))$surv)
lung_breslow <- said(f2, c(1, 100, 365, 700), nd)
b <- basehaz(f2, centered = FALSE)
lung_breslow$base <- b$hazard

# veteran: strata
v <- transform(veteran, cell = as.integer(celltype), prior = prior / 10)
put_data(v[, c("time", "status", "trt", "karno", "age", "prior", "cell")], "cox_veteran.csv")
veteran_strata <- said(coxph(Surv(time, status) ~ trt + karno + age + prior + strata(cell), v), NULL, NULL)

# ovarian: few events
put_data(ovarian[, c("futime", "fustat", "age", "rx")], "cox_ovarian.csv")
ovarian_few <- said(coxph(Surv(futime, fustat) ~ age + rx, ovarian), c(200, 500), data.frame(age = 56, rx = 1))

# heart: counting process, clustered on the person
h <- transform(heart, transplant = as.integer(transplant) - 1L)
put_data(h[, c("start", "stop", "event", "age", "year", "surgery", "transplant", "id")], "cox_heart.csv")
heart_rows <- said(coxph(Surv(start, stop, event) ~ age + year + surgery + transplant, h), c(50, 400),
                   data.frame(age = 2, year = 3, surgery = 0, transplant = 1))
heart_cluster <- said(coxph(Surv(start, stop, event) ~ age + year + surgery + transplant, h, cluster = id), c(50, 400),
                      data.frame(age = 2, year = 3, surgery = 0, transplant = 1), zph = FALSE)

# bladder2: recurrences within a person, both ties
put_data(bladder2[, c("id", "start", "stop", "event", "rx", "number", "size", "enum")], "cox_bladder2.csv")
bladder_efron <- said(coxph(Surv(start, stop, event) ~ rx + number + size + strata(enum), bladder2, cluster = id),
                      NULL, NULL, zph = FALSE)
bladder_breslow <- said(coxph(Surv(start, stop, event) ~ rx + number + size + strata(enum), bladder2, cluster = id,
                              ties = "breslow"), NULL, NULL, zph = FALSE)

# pbc: weights and offset
p <- pbc[!is.na(pbc$trt), ]
p <- transform(p, dead = as.integer(status == 2), logbili = log(bili), w = 0.5 + (id %% 4) / 2, off = albumin / 4)
put_data(p[, c("id", "time", "dead", "age", "logbili", "edema", "w", "off")], "cox_pbc.csv")
# The package leaves the offset out of its robust score test; from its score
# residuals at 0 it is kept.
at_zero <- function(ties) {
  u <- residuals(coxph(Surv(time, dead) ~ age + logbili + edema + offset(off), p, weights = w, ties = ties,
                       iter.max = 0), type = "score", weighted = TRUE)
  drop(colSums(u) %*% solve(crossprod(u), colSums(u)))
}
pbc_weighted <- said(coxph(Surv(time, dead) ~ age + logbili + edema + offset(off), p, weights = w, robust = TRUE),
                     NULL, NULL, zph = FALSE)
pbc_weighted_breslow <- said(coxph(Surv(time, dead) ~ age + logbili + edema + offset(off), p, weights = w,
                                   robust = TRUE, ties = "breslow"), NULL, NULL, zph = FALSE)

pbc_weighted$rscore <- at_zero("efron")
pbc_weighted_breslow$rscore <- at_zero("breslow")

# colon: two events a person, many ties
co <- transform(colon, lev = as.integer(rx == "Lev"), lev5fu = as.integer(rx == "Lev+5FU"))
put_data(co[, c("id", "time", "status", "lev", "lev5fu", "age", "etype")], "cox_colon.csv")
colon_cluster <- said(coxph(Surv(time, status) ~ lev + lev5fu + age + strata(etype), co, cluster = id),
                      NULL, NULL, zph = FALSE)

# Few clusters: from the package's score residuals, differentiated numerically
# in beta, the sandwich of Kauermann & Carroll and Satterthwaite's degrees.
few <- function(formula, data, cluster, ties) {
  environment(formula) <- environment()
  fit <- coxph(formula, data, ties = ties)
  beta <- coef(fit)
  scores <- function(b) residuals(coxph(formula, data, ties = ties, init = b, iter.max = 0),
                                  type = "score", collapse = cluster)
  u <- scores(beta)
  v <- fit$var
  slope <- lapply(seq_along(beta), function(j) {
    e <- replace(numeric(length(beta)), j, 1e-3 * sqrt(v[j, j]))
    wide <- (scores(beta + 2 * e) - scores(beta - 2 * e)) / (4 * e[j])
    near <- (scores(beta + e) - scores(beta - e)) / (2 * e[j])
    (4 * near - wide) / 3
  })
  eig <- function(m, pow) {
    s <- eigen(m, symmetric = TRUE)
    s$vectors %*% diag(s$values^pow, length(s$values)) %*% t(s$vectors)
  }
  half <- eig(v, 0.5)
  info <- lapply(seq_len(nrow(u)), function(i) -vapply(slope, function(d) d[i, ], beta))
  vc <- lapply(info, function(o) {
    rest <- diag(length(beta)) - half %*% ((o + t(o)) / 2) %*% half
    v %*% eig(v, -0.5) %*% eig((rest + t(rest)) / 2, -0.5) %*% half
  })
  d <- t(vapply(seq_along(vc), function(i) drop(vc[[i]] %*% u[i, ]), beta))
  df <- vapply(seq_along(beta), function(j) {
    through <- vapply(seq_along(vc), function(i) drop(info[[i]] %*% vc[[i]][j, ]), beta)
    own <- vapply(seq_along(vc), function(i) sum(vc[[i]][j, ] * through[, i]), 0)
    g <- diag(own) - t(through) %*% v %*% through
    sum(diag(g))^2 / sum(g^2)
  }, 0)
  list(var = crossprod(d), df = df)
}
lf <- l[l$inst %in% c(1, 3, 6, 11, 12, 13), ]
put_data(lf, "cox_lung_sites.csv")
few_lung <- few(Surv(time, status) ~ age + sex + ph.ecog, lf, lf$inst, "efron")
few_lung_breslow <- few(Surv(time, status) ~ age + sex + ph.ecog, lf, lf$inst, "breslow")

answer(list(
  lung_efron = lung_efron, lung_breslow = lung_breslow, veteran = veteran_strata, ovarian = ovarian_few,
  heart = heart_rows, heart_cluster = heart_cluster, bladder_efron = bladder_efron,
  bladder_breslow = bladder_breslow, pbc = pbc_weighted, pbc_breslow = pbc_weighted_breslow,
  colon = colon_cluster, few_lung = few_lung, few_lung_breslow = few_lung_breslow
))
