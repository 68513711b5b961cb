# Least squares, logistic and Poisson regressions with model-based, row-robust
# and cluster-robust variances, joint tests and standardised means.
source("../lib.R")
packages("MASS", "nlme", "sandwich", "clubSandwich", "numDeriv")

# Designs go out as columns x1, x2, ... with clusters as whole numbers.
put <- function(name, y, X, cluster, weights = NULL, offset = NULL) {
  d <- data.frame(y = y, X, cluster = as.integer(factor(cluster)))
  names(d) <- c("y", paste0("x", seq_len(ncol(X))), "cluster")
  d$w <- weights; d$o <- offset
  put_data(d, paste0("models_", name, ".csv"))
  d
}

# clubSandwich reads the model's own variables, so the call is built whole.
fit <- function(d, family) {
  x <- paste(grep("^x", names(d), value = TRUE), collapse = "+")
  d$w <- if (is.null(d$w)) 1 else d$w
  d$o <- if (is.null(d$o)) 0 else d$o
  f <- as.formula(paste("y ~ 0 +", x, "+ offset(o)"))
  if (family == "gaussian") {
    if (all(d$w == 1)) lm(f, d) else lm(f, d, weights = w)
  } else {
    # glm stops when the deviance no longer falls, half the digits short; started
    # again from where it stopped it takes the last steps.
    g <- suppressWarnings(glm(f, family = family, data = d, weights = w, control = glm.control(epsilon = 1e-14)))
    for (k in 1:3) {
      from <- coef(g)
      g <- suppressWarnings(glm(f, family = family, data = d, weights = w, start = from, control = glm.control(epsilon = 1e-14)))
    }
    g
  }
}

# The working variance is the model's own: in least squares one over the weight.
clustered <- function(f, d, type) {
  if (inherits(f, "glm") || is.null(d$w)) vcovCR(f, cluster = d$cluster, type = type)
  else vcovCR(f, cluster = d$cluster, type = type, target = mean(d$w) / d$w, inverse_var = TRUE)
}

# The mean outcome had all rows the value 1, then 0, in the column named, its
# covariance from the coefficients and from who the rows are.
standard <- function(f, d, column, V, cluster) {
  inverse <- if (inherits(f, "glm")) f$family$linkinv else identity
  X <- model.matrix(f)
  o <- if (is.null(d$o)) 0 else d$o
  predicted <- function(b, value) { X[, column] <- value; inverse(as.vector(X %*% b) + o) }
  both <- function(b) c(mean(predicted(b, 1)), mean(predicted(b, 0)))
  J <- jacobian(both, coef(f))
  P <- cbind(predicted(coef(f), 1), predicted(coef(f), 0))
  D <- rowsum(sweep(P, 2, colMeans(P)) / nrow(P), cluster, reorder = FALSE)
  S <- J %*% V %*% t(J) + crossprod(D)
  list(means = colMeans(P), se = sqrt(diag(S)), difference = diff(rev(colMeans(P))),
       dse = sqrt(S[1, 1] + S[2, 2] - 2 * S[1, 2]), ratio = colMeans(P)[1] / colMeans(P)[2],
       rse = (colMeans(P)[1] / colMeans(P)[2]) * sqrt(c(1 / colMeans(P)[1], -1 / colMeans(P)[2]) %*% S %*% c(1 / colMeans(P)[1], -1 / colMeans(P)[2]))[1])
}

model <- function(d, family, binary, weights, joint) {
  f <- fit(d, family)
  out <- list(coef = coef(f), se = sqrt(diag(vcov(f))), vcov = vcov(f), loglik = as.numeric(logLik(f)), aic = AIC(f),
              sigma = if (family == "gaussian") sigma(f) else 0, fitted = fitted(f), rows = nrow(d))
  for (type in c("HC0", "HC1", "HC2", "HC3")) out[[type]] <- vcovHC(f, type = type)
  for (type in c("CR0", "CR1", "CR2")) {
    V <- clustered(f, d, type)
    s <- coef_test(f, vcov = V, test = "Satterthwaite")
    contrast <- linear_contrast(f, vcov = V, contrasts = matrix(weights, 1), test = "Satterthwaite", level = 0.9)
    out[[type]] <- list(vcov = as.matrix(V), se = s$SE, df = s$df, p = s$p_Satt,
                        value = contrast$Est, error = contrast$SE, dof = contrast$df, low = contrast$CI_L, high = contrast$CI_U)
    w <- Wald_test(f, constraints = constrain_zero(joint, coefs = coef(f)), vcov = V, test = "Naive-F")
    out[[type]]$wald <- c(w$Fstat, w$df_num, w$df_denom, w$p_val)
  }
  out$weights <- weights
  out$joint <- joint
  out$binary <- binary
  out$plain <- standard(f, d, binary, vcovHC(f, type = "HC3"), seq_len(nrow(d)))
  out$clustered <- standard(f, d, binary, clustered(f, d, "CR2"), d$cluster)
  out
}

out <- list()
O <- as.data.frame(Orthodont)
d <- put("orthodont", O$distance, model.matrix(~ age * Sex, O), O$Subject)
out$orthodont <- model(d, "gaussian", 3, c(0, 0, 1, 11), c(2, 4))

d <- put("warpbreaks", warpbreaks$breaks, model.matrix(~ wool + tension, warpbreaks), rep(1:9, 6))
out$warpbreaks <- model(d, "gaussian", 2, c(0, 0, 1, -1), 3:4)

# One large cluster and many small ones, and rows of unequal weight.
S <- swiss
d <- put("swiss", S$Fertility, model.matrix(~ Agriculture + Education + I(Catholic > 50), S), cut(S$Infant.Mortality, 6), weights = S$Examination / 10)
out$swiss <- model(d, "gaussian", 4, c(0, 1, 0, 0), 2:3)

C <- ChickWeight[ChickWeight$Time >= 6, ]
d <- put("chicks", C$weight, model.matrix(~ Time + I(Diet == 3), C), C$Chick)
out$chicks <- model(d, "gaussian", 3, c(1, 12, 1), 2:3)

B <- birthwt
d <- put("birthwt", B$low, model.matrix(~ age + lwt + smoke + ht, B), rep(1:21, 9))
out$birthwt <- model(d, "binomial", 4, c(0, 10, 0, 0, 0), c(4, 5))

B <- bacteria
d <- put("bacteria", as.integer(B$y == "y"), model.matrix(~ I(ap == "a") + week, B), B$ID)
out$bacteria <- model(d, "binomial", 2, c(0, 1, 4), 2:3)

I <- infert
d <- put("infert", I$case, model.matrix(~ spontaneous + induced + I(age > 30), I), I$stratum, weights = 1 + (I$parity > 2))
out$infert <- model(d, "binomial", 4, c(0, 1, -1, 0), 2:3)

E <- epil
d <- put("epil", E$y, model.matrix(~ log(base) + I(trt == "progabide") + V4, E), E$subject)
out$epil <- model(d, "poisson", 3, c(0, 0, 1, 0), c(3, 4))

Q <- quine
d <- put("quine", Q$Days, model.matrix(~ Eth + Sex + Lrn, Q), Q$Age)
out$quine <- model(d, "poisson", 2, c(0, 1, 0, 0), c(2, 4))

I <- Insurance
d <- put("insurance", I$Claims, model.matrix(~ I(District == 4) + as.numeric(Group) + as.numeric(Age), I), interaction(I$District, I$Group), offset = log(I$Holders))
out$insurance <- model(d, "poisson", 2, c(0, 0, 1, -1), 3:4)

answer(out)
