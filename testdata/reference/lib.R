# Sourced by every script of the folders below: fixes what R prints, loads
# packages and notes their versions, writes data sets, prints the answers.
# Run the scripts with `go run ./cmd/dev reference`.

options(warn = 1, stringsAsFactors = FALSE, digits = 17)
RNGkind("Mersenne-Twister", "Inversion", "Rejection")
.noted <- new.env()
.noted$packages <- list()
.noted$data <- character()

# Attaches the named packages, each of which comes with Debian.
packages <- function(...) {
  for (p in c(...)) {
    suppressPackageStartupMessages(library(p, character.only = TRUE))
    .noted$packages[[p]] <- as.character(packageVersion(p))
  }
}

.number <- function(x) {
  out <- sprintf("%.17g", as.double(x))
  out[!is.finite(x)] <- NA
  out
}

# Writes df into the folder of the script: 17 digits, NA as an empty cell.
put_data <- function(df, file) {
  cells <- lapply(df, function(x) {
    if (is.logical(x)) x <- as.integer(x)
    if (is.numeric(x)) .number(x) else as.character(x)
  })
  text <- as.data.frame(cells, optional = TRUE)
  write.csv(text, file, row.names = FALSE, quote = FALSE, na = "", eol = "\n")
  .noted$data <- union(.noted$data, file)
  invisible(df)
}

# Notes a data file that lies in the folder already, and returns its name.
given_data <- function(file) {
  .noted$data <- union(.noted$data, file)
  file
}

.quote <- function(x) paste0('"', gsub('(["\\\\])', '\\\\\\1', x), '"')

# One value as JSON. A named list becomes an object, a vector an array, a
# vector of length one a scalar, a matrix an array row by row; names of
# vectors are dropped; NA, NaN and infinities become null.
.json <- function(x, indent = "  ") {
  if (is.list(x)) {
    stopifnot("answers need names" = length(x) == 0 || !is.null(names(x)))
    bad <- !grepl("^[A-Za-z0-9_]+$", names(x))
    if (any(bad)) stop("answer name not of letters, digits, _: ", paste(names(x)[bad], collapse = " "))
    inner <- paste0(indent, "  ")
    parts <- vapply(seq_along(x), function(i)
      paste0(inner, .quote(names(x)[i]), ": ", .json(x[[i]], inner)), "")
    return(paste0("{\n", paste(parts, collapse = ",\n"), "\n", indent, "}"))
  }
  if (is.matrix(x)) x <- as.vector(t(x))
  if (is.factor(x)) x <- as.character(x)
  text <- if (is.character(x)) ifelse(is.na(x), "null", .quote(x)) else {
    y <- .number(x)
    ifelse(is.na(y), "null", y)
  }
  if (length(x) == 1) text else paste0("[", paste(text, collapse = ", "), "]")
}

# Prints the answers with what they were computed by; the last call of a script.
answer <- function(answers) {
  cat("{\n")
  cat('  "r": ', .quote(paste(R.version$major, R.version$minor, sep = ".")), ",\n", sep = "")
  cat('  "packages": ', .json(.noted$packages), ",\n", sep = "")
  cat('  "data": [', paste(.quote(.noted$data)[seq_along(.noted$data)], collapse = ", "), "],\n", sep = "")
  cat('  "answers": ', .json(answers), "\n}\n", sep = "")
}
