# Stabilised weights for two ways of treating, several ways, and a dose, with
# the balance that they achieve.
source("../lib.R")
packages("MASS", "survival", "datasets")

put <- function(name, treatment, ...) {
  d <- cbind(treatment = as.numeric(treatment), as.data.frame(lapply(list(...), as.numeric)))
  d <- d[complete.cases(d), ]
  names(d) <- c("treatment", paste0("x", seq_len(ncol(d) - 1)))
  put_data(d, paste0("weights_", name, ".csv"))
}
kish <- function(w) sum(w)^2 / sum(w^2)
# Largest difference of means between two groups in pooled standard deviations.
distance <- function(x, g, w = rep(1, length(x))) {
  means <- sapply(split(seq_along(x), g), function(i) weighted.mean(x[i], w[i]))
  max(dist(means)) / sqrt(mean(tapply(x, g, var)))
}
grouped <- function(d, p) {
  share <- table(d$treatment)[as.character(d$treatment)] / nrow(d)
  w <- as.vector(share) / p
  x <- d[-1]
  list(columns = ncol(x), weights = w, effective = as.vector(tapply(w, d$treatment, kish)),
       before = unname(sapply(x, distance, d$treatment)), weighted = unname(sapply(x, distance, d$treatment, w)))
}
binary <- function(d) {
  p <- fitted(glm(treatment ~ ., binomial, d, control = glm.control(epsilon = 1e-14, maxit = 100)))
  grouped(d, ifelse(d$treatment == 1, p, 1 - p))
}
# A multinomial model as the Poisson model of one row per person and kind.
several <- function(d) {
  kinds <- sort(unique(d$treatment))
  long <- do.call(rbind, lapply(kinds, function(k) {
    slopes <- do.call(cbind, lapply(kinds[-1], function(j) (k == j) * scale(d[-1])))
    data.frame(person = factor(seq_len(nrow(d))), kind = factor(k, kinds), seen = as.numeric(d$treatment == k), slopes = I(slopes))
  }))
  fit <- glm(seen ~ person + kind + slopes, poisson, long, control = glm.control(epsilon = 1e-14, maxit = 100))
  stopifnot(fit$converged)
  grouped(d, fitted(fit)[long$seen == 1][order(as.integer(long$person)[long$seen == 1])])
}
dose <- function(d) {
  all <- lm(treatment ~ ., d)
  one <- lm(treatment ~ 1, d)
  w <- dnorm(d$treatment, fitted(one), sigma(one)) / dnorm(d$treatment, fitted(all), sigma(all))
  r <- resid(all) / sigma(all)
  m <- function(k) mean((r - mean(r))^k)
  rho <- function(x, w) abs(cov.wt(cbind(d$treatment, x), w / sum(w), cor = TRUE)$cor[1, 2])
  x <- d[-1]
  list(columns = ncol(x), weights = w, effective = kish(w), residuals = unname(r),
       skewness = m(3) / m(2)^1.5, kurtosis = m(4) / m(2)^2 - 3,
       before = unname(sapply(x, rho, rep(1, nrow(d)))), weighted = unname(sapply(x, rho, w)))
}
answers <- list(
  birthwt = with(birthwt, binary(put("birthwt", smoke, age, lwt, race == 2, race == 3, ht, ui))),
  lung = with(lung, binary(put("lung", sex == 2, age, ph.ecog, meal.cal))),
  pima = with(Pima.tr, binary(put("pima", type == "Yes", npreg, glu, bmi, age))),
  melanoma = with(Melanoma, binary(put("melanoma", ulcer, sex, age, log(thickness)))),
  veteran = with(veteran, binary(put("veteran", trt - 1, karno, diagtime, age, prior))),
  infert = with(infert, binary(put("infert", case, age, parity, induced, spontaneous))),
  race = with(birthwt, several(put("race", race - 1, age, lwt, smoke, ht))),
  cells = with(veteran, several(put("cells", as.integer(celltype) - 1, karno, diagtime, age))),
  ecog = with(subset(lung, ph.ecog < 3), several(put("ecog", ph.ecog, age, sex, wt.loss))),
  education = with(infert, several(put("education", as.integer(education) - 1, age, parity))),
  anorexia = with(anorexia, several(put("anorexia", as.integer(Treat) - 1, Prewt))),
  stage = with(subset(pbc, stage > 1), several(put("stage", stage - 2, age, albumin, log(bili)))),
  meal = with(lung, dose(put("meal", log(meal.cal), age, sex, ph.ecog))),
  wind = with(airquality, dose(put("wind", Wind, Temp, Month))),
  swiss = with(swiss, dose(put("swiss", Education, Agriculture, Catholic, Infant.Mortality))),
  boston = with(Boston, dose(put("boston", log(crim), rm, ptratio, lstat))),
  weight = with(birthwt, dose(put("weight", log(lwt), age, smoke, ht, race == 2))),
  bmi = with(Pima.tr, dose(put("bmi", bmi^(1 / 3), glu, age, npreg))))
answer(answers)
