# Sourced by the scripts of the three questions: the rows that derive.R wrote,
# cut at the end of the month reported, and what had become of everybody by then.

month_from <- as.Date("2023-12-01") # 24 months of starts of care
month_to <- as.Date("2025-11-30")
types <- c("calf_strain", "lateral_elbow_tendinopathy", "anterior_cruciate_reconstruction")

rows_of <- function(name) read.csv(given_data(paste0("rows_", name, ".csv")), na.strings = "")
episodes <- rows_of("return")
for (x in c("at_target", "provisional", "bilateral")) episodes[[x]] <- episodes[[x]] == 1
episodes$start <- as.Date(episodes$start_date)
episodes$began <- episodes$start >= month_from & episodes$start <= month_to
episodes$cut <- pmin(episodes$follow_days, as.integer(month_to - episodes$start))

lost_reasons <- c("gap", "lost_contact", "self_discharged")

# State and day by the cut. How: as recorded; lost_never and lost_return for
# those lost; a column of return days to use in place of return_day.
stand <- function(e, how = "recorded", back = e$return_day) {
  on_time <- function(day) !is.na(day) & day <= e$cut
  returned <- on_time(back) & (is.na(e$end_day) | back <= e$end_day)
  ended <- on_time(e$end_day)
  watched <- e$out_reason == "in_care" | e$out_day > e$cut
  state <- ifelse(!is.na(e$unusable), "no_usable", ifelse(e$at_target, "at_target", ifelse(returned, "returned",
    ifelse(ended, "ended_otherwise", ifelse(watched, "in_care", ifelse(e$out_reason %in% lost_reasons, "lost", "left_otherwise"))))))
  day <- ifelse(returned, back, ifelse(ended, e$end_day, ifelse(watched, e$cut, e$out_day)))
  if (how == "lost_never") day[state == "lost"] <- e$cut[state == "lost"]
  if (how == "lost_return") state[state == "lost"] <- "returned"
  data.frame(state = state, day = day)
}
