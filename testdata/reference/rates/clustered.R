# The variance of a rate over persons against the Poisson one.
source("../lib.R")
packages("MASS", "survival", "sandwich")

sets <- list(
  epil = with(epil, data.frame(id = subject, events = y, exposure = 2)),
  cgd = with(cgd, data.frame(id = id, events = status, exposure = tstop - tstart)),
  bladder = with(subset(bladder1, stop > start), data.frame(id = id, events = as.integer(status == 1), exposure = stop - start)),
  insurance = with(Insurance, data.frame(id = as.integer(District), events = Claims, exposure = Holders)),
  ships = with(subset(ships, service > 0), data.frame(id = as.integer(type), events = incidents, exposure = service)),
  sprays = with(InsectSprays, data.frame(id = as.integer(spray), events = count, exposure = 1)),
  alone = with(InsectSprays[InsectSprays$spray == "F", ], data.frame(id = seq_along(count), events = count, exposure = 1)))

answers <- lapply(names(sets), function(name) {
  d <- sets[[name]]
  put_data(aggregate(cbind(events, exposure) ~ id, d, sum), paste0("clustered_", name, ".csv"))
  # Started at the solution, so that the weights that vcov uses are those of the solution.
  fit <- glm(events ~ 1 + offset(log(exposure)), poisson, d, start = log(sum(d$events) / sum(d$exposure)))
  ratio <- vcovCL(fit, cluster = d$id)[1, 1] / vcov(fit)[1, 1]
  k <- sum(d$events)
  n <- sum(d$exposure)
  used <- if (ratio > 1.2) ratio else 1
  list(ratio = ratio, low = used * qgamma(0.025, k / used) / n, high = used * qgamma(0.975, k / used + 1) / n,
       se = sqrt(used * k) / n)
})
names(answers) <- names(sets)
answer(answers)
