# Bootstrap intervals: the draws of R, its jackknife, its limits.
source("../lib.R")
packages("boot", "MASS", "nlme")

ratio <- function(d) sum(d$y) / sum(d$x)
correlation <- function(d) cor(d$x, d$y)
slope <- function(d) cov(d$x, d$y) / var(d$x)
average <- function(d) mean(d$y)
spread <- function(d) sd(d$y)
sets <- list(
  city = list(with(city, data.frame(x = u, y = x)), ratio),
  bigcity = list(with(bigcity, data.frame(x = u, y = x)), ratio),
  aircondit = list(with(aircondit, data.frame(x = hours, y = hours)), average),
  cd4 = list(with(cd4, data.frame(x = baseline, y = oneyear)), correlation),
  cats = list(with(catsM, data.frame(x = Bwt, y = Hwt)), spread),
  nuclear = list(with(nuclear, data.frame(x = date, y = cost)), slope))
# Persons with several rows each: orthodontic growth, whole children drawn.
ortho <- with(Orthodont, data.frame(person = as.integer(Subject) - 1, x = age, y = distance))
put_data(ortho, "intervals_orthodont.csv")
children <- unique(ortho$person)

set.seed(20)
limits <- function(b, level) {
  left <- empinf(b, type = "jack")
  list(t0 = b$t0, t = as.vector(b$t), se = sd(b$t),
       perc = boot.ci(b, level, type = "perc")$percent[4:5],
       bca = boot.ci(b, level, type = "bca", L = left)$bca[4:5])
}
answers <- lapply(names(sets), function(name) {
  d <- put_data(sets[[name]][[1]], paste0("intervals_", name, ".csv"))
  f <- sets[[name]][[2]]
  limits(boot(d, function(d, i) f(d[i, ]), R = 299), 0.9)
})
names(answers) <- names(sets)
answers$orthodont <- limits(boot(children, function(d, i)
  slope(do.call(rbind, lapply(d[i], function(p) ortho[ortho$person == p, ]))), R = 299), 0.9)
answer(answers)
