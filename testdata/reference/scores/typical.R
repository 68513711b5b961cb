# Typical values at four visits, by a model with an intercept for each person,
# and the change from the first: every visit there, and some left out.
source("../lib.R")
packages("nlme", "lme4", "lmerTest")

growth <- as.data.frame(Orthodont)
growth <- data.frame(person = as.integer(factor(as.character(growth$Subject))), visit = match(growth$age, c(8, 10, 12, 14)), value = growth$distance)
sets <- list(complete = growth, gaps = growth[(growth$person + 3 * growth$visit) %% 5 != 0, ])

answers <- lapply(names(sets), function(name) {
  d <- put_data(sets[[name]], paste0("typical_", name, ".csv"))
  fit <- lmerTest::lmer(value ~ 0 + factor(visit) + (1 | person), d)
  combine <- function(weights) {
    c <- contest1D(fit, weights, confint = TRUE, level = 0.95)
    c(c[["Estimate"]], c[["Std. Error"]], c[["lower"]], c[["upper"]])
  }
  typical <- sapply(1:4, function(i) combine(as.double(1:4 == i)))
  change <- sapply(2:4, function(i) combine(as.double(1:4 == i) - as.double(1:4 == 1)))
  list(typical = typical[1, ], typical_se = typical[2, ], typical_low = typical[3, ], typical_high = typical[4, ],
       change = change[1, ], change_se = change[2, ], change_low = change[3, ], change_high = change[4, ])
})
names(answers) <- names(sets)
answer(answers)
