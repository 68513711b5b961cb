# p-values of comparisons in public data sets, adjusted.
source("../lib.R")
packages("MASS", "survival", "stats")

pairs <- function(y, g) na.omit(as.vector(pairwise.t.test(y, g, p.adjust.method = "none")$p.value))
columns <- function(y, d) sapply(d, function(x) cor.test(y, as.numeric(x))$p.value)
sets <- list(
  sprays = with(InsectSprays, pairs(count, spray)),
  insurance = with(Insurance, pairs(Claims / Holders, Age)),
  airquality = with(airquality, pairs(Ozone, Month)),
  anorexia = with(anorexia, pairs(Postwt - Prewt, Treat)),
  birthwt = columns(birthwt$bwt, birthwt[c("age", "lwt", "race", "smoke", "ptl", "ht", "ui", "ftv")]),
  mtcars = columns(mtcars$mpg, mtcars[-1]),
  lung = columns(lung$time, lung[c("age", "sex", "ph.ecog", "ph.karno", "pat.karno", "meal.cal", "wt.loss")]),
  ties = c(0.01, 0.01, 0.04, 0.04, 0.04, 1, 0, 0.5))
answer(lapply(sets, function(p) list(p = unname(p), holm = unname(p.adjust(p, "holm")), bh = unname(p.adjust(p, "BH")))))
