# Rubin's rules with the degrees of freedom of Barnard and Rubin, written from
# the formulas, over regressions of data sets with missing values, which are
# filled in by drawing from those recorded.
source("../lib.R")
packages("MASS", "survival", "datasets")

pool <- function(formula, data, which, m = 8, small = TRUE) {
  data <- data[all.vars(formula)]
  fits <- lapply(seq_len(m), function(i) {
    filled <- as.data.frame(lapply(data, function(x) {
      gone <- is.na(x)
      x[gone] <- sample(x[!gone], sum(gone), replace = TRUE)
      x
    }))
    lm(formula, filled)
  })
  q <- sapply(fits, function(f) coef(f)[[which]])
  u <- sapply(fits, function(f) vcov(f)[which, which])
  complete <- if (small) df.residual(fits[[1]]) else Inf
  b <- (1 + 1 / m) * var(q)
  t <- mean(u) + b
  lambda <- b / t
  old <- (m - 1) / lambda^2
  observed <- (complete + 1) / (complete + 3) * complete * (1 - lambda)
  df <- if (small) old * observed / (old + observed) else old
  r <- b / mean(u)
  list(values = q, variances = u, complete = if (small) complete else 0, mean = mean(q), se = sqrt(t), df = df,
       low = mean(q) - qt(0.975, df) * sqrt(t), high = mean(q) + qt(0.975, df) * sqrt(t),
       lost = (r + 2 / (df + 3)) / (r + 1))
}
set.seed(41)
df <- c(0.3, 1, 7.5, 250, 9999, 20000, 1e7)
answer(list(
  airquality = pool(Ozone ~ Solar.R + Wind, airquality, "Solar.R"),
  lung = pool(time ~ meal.cal + age, lung, "meal.cal"),
  pima = pool(glu ~ bmi + skin + bp, Pima.tr2, "skin"),
  pbc = pool(bili ~ chol + age, pbc, "chol"),
  survey = pool(Height ~ Wr.Hnd + Age, survey, "Wr.Hnd"),
  cars = pool(Price ~ Luggage.room + Horsepower, Cars93, "Luggage.room", m = 3),
  large = pool(time ~ wt.loss, lung, "wt.loss", m = 20, small = FALSE),
  t = list(df = df, quantile = qt(0.975, df))))
