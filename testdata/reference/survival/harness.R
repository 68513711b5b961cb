# Values that prove the way from R to the tests itself: full digits, missing
# values, matrices, texts.
source("../lib.R")
packages("survival")

put_data(data.frame(x = c(0.1, NA), g = c("left", "right")), "harness.csv")

answer(list(
  numbers = c(0.1, 1 / 3, NA),
  nested = list(one = 1L, matrix = matrix(c(1, 2, 3, 4), 2)),
  words = c('a "b"', "c")
))
