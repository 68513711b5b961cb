# Multinomial models as the log-linear models they are equivalent to: a Poisson
# count per row and kind, with a term per row.
source("../lib.R")
packages("MASS")

model <- function(name, y, X, w = rep(1, length(y))) {
  kinds <- max(y) + 1; n <- length(y); p <- ncol(X)
  d <- data.frame(y = y, X, w = w); names(d) <- c("y", paste0("x", seq_len(p)), "w")
  put_data(d, paste0("multinomial_", name, ".csv"))
  long <- expand.grid(kind = 0:(kinds - 1), row = seq_len(n))
  count <- as.numeric(y[long$row] == long$kind) * w[long$row]
  Z <- do.call(cbind, lapply(1:(kinds - 1), function(k) X[long$row, , drop = FALSE] * (long$kind == k)))
  R <- model.matrix(~ 0 + factor(row), long)
  from <- NULL
  for (k in 1:4) {
    f <- suppressWarnings(glm.fit(cbind(R, Z), count, start = from, family = poisson(), control = glm.control(epsilon = 1e-14, maxit = 200)))
    from <- f$coefficients
  }
  V <- chol2inv(f$qr$qr[seq_len(f$rank), seq_len(f$rank)])
  stopifnot(identical(f$qr$pivot, seq_along(from)))
  at <- n + seq_len((kinds - 1) * p)
  V <- V[at, at]
  P <- matrix(f$fitted.values, n, kinds, byrow = TRUE) / w
  list(coef = matrix(from[at], kinds - 1, p, byrow = TRUE), se = sqrt(diag(V)), vcov = V,
       loglik = sum(w * log(P[cbind(seq_len(n), y + 1)])), share = P, rows = n, kinds = kinds)
}

B <- birthwt
I <- infert
M <- mtcars
out <- list(
  birthwt = model("birthwt", B$race - 1, cbind(1, B$age, B$lwt, B$smoke)),
  infert = model("infert", as.integer(I$education) - 1, cbind(1, I$age, I$spontaneous), w = 1 + (I$case == 1) / 2),
  mtcars = model("mtcars", M$gear - 3, cbind(1, M$qsec)),
  iris = model("iris", as.integer(iris$Species) - 1, cbind(1, iris$Sepal.Width))
)
answer(out)
