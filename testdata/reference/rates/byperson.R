# Shares and ratios of sums whose parts come in persons.
source("../lib.R")
packages("MASS", "survival", "sandwich")

# The share at which the score statistic of k in n is z.
score_limit <- function(k, n, z, side) {
  p <- k / n
  miss <- function(q) (p - q) * sqrt(n) - side * z * sqrt(q * (1 - q))
  ends <- if (side > 0) c(0, p) else c(p, 1)
  uniroot(miss, ends, tol = 1e-15)$root
}

shares <- list(
  bacteria = with(bacteria, data.frame(id = as.integer(ID), y = as.integer(y == "y"))),
  epil = with(epil, data.frame(id = subject, y = as.integer(y > 5))),
  menarche = with(menarche[3:20, ], data.frame(id = rep(seq_along(Total), Total), y = unlist(Map(function(k, n) rep(1:0, c(k, n - k)), Menarche, Total)))),
  quine = with(quine, data.frame(id = as.integer(interaction(Eth, Sex, Age, drop = TRUE)), y = as.integer(Days > 20))))

by_share <- lapply(names(shares), function(name) {
  d <- shares[[name]]
  sums <- data.frame(with = as.vector(tapply(d$y, d$id, sum)), of = as.vector(tapply(d$y, d$id, length)))
  put_data(sums, paste0("byperson_", name, ".csv"))
  p <- mean(d$y)
  se <- sqrt(vcovCL(lm(y ~ 1, d), cluster = d$id, type = "HC0")[1, 1])
  n <- min(nrow(d), p * (1 - p) / se^2)
  z <- qt(0.975, nrow(sums) - 1)
  list(value = p, se = se, low = score_limit(p * n, n, z, 1), high = score_limit(p * n, n, z, -1))
})
names(by_share) <- names(shares)

ratios <- list(
  insurance = with(Insurance, data.frame(id = as.integer(District), above = Claims, below = Holders)),
  cgd = with(cgd, data.frame(id = id, above = as.double(status), below = tstop - tstart)),
  ships = with(subset(ships, service > 0), data.frame(id = as.integer(type), above = incidents, below = service)))

by_ratio <- lapply(names(ratios), function(name) {
  d <- ratios[[name]]
  sums <- aggregate(cbind(above, below) ~ id, d, sum)[, c("above", "below")]
  put_data(sums, paste0("byperson_", name, ".csv"))
  fit <- lm(above ~ 0 + below, d, weights = 1 / below)
  se <- sqrt(vcovCL(fit, cluster = d$id, type = "HC0")[1, 1])
  value <- unname(coef(fit))
  half <- qt(0.975, nrow(sums) - 1) * se / value
  list(value = value, se = se, low = value * exp(-half), high = value * exp(half))
})
names(by_ratio) <- names(ratios)

answer(c(by_share, by_ratio))
