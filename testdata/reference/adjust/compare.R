# The share of one of two competing ends by a day, set against a dose and against
# some dose or none, by least squares of pseudo-values: raw, standardised over
# the covariates, and weighted. Each also of a draw in which rows repeat.
source("../lib.R")
packages("survival", "splines")

# The smallest value that at least a share p of the rows do not exceed.
edge <- function(x, p) sort(x)[max(1, ceiling(p * length(x)))]

pseudo_values <- function(d, by) {
  held <<- d # where pseudo looks the rows up again
  fit <- survfit(Surv(day, factor(event, 0:2)) ~ 1, data = held)
  as.vector(pseudo(fit, times = by, type = "pstate")[, 2])
}

# The mean over the rows of what the model says had all of them one dose.
standardised <- function(model, d, dose) {
  d$dose <- dose
  mean(predict(model, d))
}

amounts <- function(all, d, by, reference, grid, scale) {
  knots <- quantile(all$dose, c(0.1, 0.5, 0.9)); ends <- range(all$dose)
  d$y <- pseudo_values(d, by)
  d$mild <- as.numeric(d$severity == 1); d$severe <- as.numeric(d$severity == 3)
  curve <- function(x) ns(x, knots = knots, Boundary.knots = ends)
  raw <- lm(y ~ curve(dose), d)
  # The middle person of all, not of the draw, has the plain curve.
  steep <- function(dose, of, level) (log(dose) - mean(log(all$dose))) * (of - mean(all$severity == level))
  full <- lm(y ~ curve(dose) + mild + severe + x1 + x2 + steep(dose, mild, 1) + steep(dose, severe, 3), d)
  from <- edge(d$dose, 0.25); to <- edge(d$dose, 0.75)
  d$scaled <- scale(d$dose)
  given <- lm(scaled ~ mild + severe + x1 + x2, d); alone <- lm(scaled ~ 1, d)
  d$w <- dnorm(d$scaled, fitted(alone), sigma(alone)) / dnorm(d$scaled, fitted(given), sigma(given))
  weighted <- lm(y ~ curve(dose), d, weights = w)
  at <- function(model, dose) standardised(model, d, dose)
  list(pseudo = d$y, share = mean(d$y), from = from, to = to,
       raw = at(raw, to) - at(raw, from), low = at(full, from), standardised = at(full, to) - at(full, from),
       weighted = at(weighted, to) - at(weighted, from),
       curve = sapply(grid, function(x) at(full, x) - at(full, reference)),
       rawcurve = sapply(grid, function(x) at(raw, x) - at(raw, reference)))
}

any_dose <- function(d, by, cut) {
  d$y <- pseudo_values(d, by)
  d$mild <- as.numeric(d$severity == 1); d$severe <- as.numeric(d$severity == 3)
  d$dose <- as.numeric(d$dose > cut)
  full <- lm(y ~ dose * mild + dose * severe + x1 + x2, d)
  list(standardised = standardised(full, d, 1) - standardised(full, d, 0))
}

p <- with(pbc, data.frame(day = time, event = c(0, 2, 1)[status + 1], dose = bili, severity = cut(albumin, c(0, 3.3, 3.7, 9), labels = FALSE),
                          x1 = age, x2 = log(protime)))
m <- with(mgus2, data.frame(day = futime, event = ifelse(pstat == 1, 1, 2 * death), dose = creat, severity = cut(age, c(0, 65, 77, 120), labels = FALSE),
                            x1 = hgb, x2 = as.numeric(sex == "M")))
m$day <- with(mgus2, ifelse(pstat == 1, ptime, futime))
take <- function(d, name) put_data(d[complete.cases(d) & d$day > 0, ], paste0("compare_", name, ".csv"))
set.seed(1)
answers <- list()
for (one in list(list("pbc", take(p, "pbc"), 2000, 1, 1:6), list("mgus", take(m, "mgus"), 120, 1.1, c(0.8, 1, 1.5, 2)))) {
  d <- one[[2]]
  times <- tabulate(sample(nrow(d), replace = TRUE), nrow(d))
  drawn <- d[rep(seq_len(nrow(d)), times), ]
  # The weights take log dose, or its cube root where the residuals are crooked.
  r <- resid(lm(log(dose) ~ I(severity == 1) + I(severity == 3) + x1 + x2, d))
  crooked <- abs(mean((r - mean(r))^3) / mean((r - mean(r))^2)^1.5) > 1
  scale <- if (crooked) function(x) x^(1 / 3) else log
  answers[[one[[1]]]] <- list(
    by = one[[3]], reference = one[[4]], grid = one[[5]], times = times, cut = median(d$dose), cuberoot = as.numeric(crooked),
    amounts = amounts(d, d, one[[3]], one[[4]], one[[5]], scale),
    drawn = within(amounts(d, drawn, one[[3]], one[[4]], one[[5]], scale), rm(rawcurve)),
    any = any_dose(d, one[[3]], median(d$dose)))
}
answer(answers)
