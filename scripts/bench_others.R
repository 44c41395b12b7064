# The bench's questions as R's survival and cmprsk answer them, from rows that lie in memory.
# Run by bench_statistics.py: Rscript bench_others.R PACKAGE QUESTION FOLDER ANSWER
# The variance that cmprsk gives of an incidence is another one, and survival's takes minutes: neither is compared.
# Times are of fits as the package ends them by itself; figures are compared after one more that goes to the end.

arguments <- commandArgs(trailingOnly = TRUE)
package <- arguments[1]; question <- arguments[2]; folder <- arguments[3]; answer <- arguments[4]
suppressPackageStartupMessages(library(package, character.only = TRUE))

several <- 5; enough <- 10  # askings, or seconds after which no other begins
warm_up <- 20000            # rows that are answered from first
units_timed <- 3

settings <- read.table(file.path(folder, "references"), sep = "\t", col.names = c("name", "level"))
covariates <- settings$name
days_read <- scan(file.path(folder, "days_read"), quiet = TRUE)

column <- function(name) {
  path <- file.path(folder, paste0(name, ".i4"))
  readBin(path, "integer", n = file.size(path) / 4, size = 4, endian = "little")
}

rows <- data.frame(days = column("days"), outcome = column("outcome"), construct = column("construct"))
for (name in covariates) {
  levels <- sort(unique(column(name)))
  reference <- settings$level[settings$name == name]
  rows[[name]] <- factor(column(name), levels = c(reference, setdiff(levels, reference)))
}
rows$group <- factor(as.integer(as.character(rows$bearing)))
rows$revised <- rows$outcome > 1
units <- unique(floor(seq(0, max(rows$construct), length.out = units_timed)))

# How far an iteration goes.
control <- function(exact) if (exact) coxph.control(eps = 1e-14, toler.chol = 1e-16, iter.max = 60) else coxph.control()

# Read a step function; NA before its first step.
at_days <- function(time, value) c(NA, value)[findInterval(days_read, time) + 1]

# One curve after another, of a fit whose strata follow each other.
by_stratum <- function(fit, value) {
  ends <- cumsum(fit$strata); starts <- c(1, head(ends, -1) + 1)
  unlist(lapply(seq_along(ends), function(k) at_days(fit$time[starts[k]:ends[k]], value[starts[k]:ends[k]])))
}

jobs <- list(
  survival = list(
    net_risk = list(
      work = function(rows, exact) survfit(Surv(days, revised) ~ group, data = rows, conf.type = "log-log"),
      read = function(fit) list(risk = 1 - by_stratum(fit, fit$surv), lower = 1 - by_stratum(fit, fit$upper),
                                upper = 1 - by_stratum(fit, fit$lower))
    ),
    incidence = list(
      work = function(rows, exact) survfit(Surv(days, factor(outcome)) ~ group, data = rows, se.fit = FALSE),
      read = function(fit) {
        each <- function(values) {  # group by group, outcome by outcome
          curves <- matrix(sapply(2:ncol(values), function(k) by_stratum(fit, values[, k])), length(days_read))
          groups <- length(fit$strata)
          unlist(lapply(seq_len(groups), function(g) curves[, g + groups * (seq_len(ncol(values) - 1) - 1)]))
        }
        list(incidence = each(fit$pstate))
      }
    ),
    cox = list(
      work = function(rows, exact) coxph(reformulate(covariates, "Surv(days, revised)"), data = rows, ties = "efron",
                                          control = control(exact)),
      # By level, as the others do: a covariate after another, levels rising.
      read = function(fit) {
        level <- as.integer(sub("^[a-z]+", "", names(coef(fit))))
        order <- order(match(sub("[0-9]+$", "", names(coef(fit))), covariates), level)
        list("log ratio" = coef(fit)[order], "standard error" = sqrt(diag(vcov(fit)))[order])
      }
    ),
    screen = list(
      work = function(rows, exact) lapply(units, function(unit) {
        rows$own <- as.numeric(rows$construct == unit)
        coxph(Surv(days, revised) ~ own + strata(age, sex), data = rows, ties = "efron", control = control(exact))
      }),
      read = function(fits) {
        found <- list("log ratio" = rep(NA, max(rows$construct) + 1), "standard error" = rep(NA, max(rows$construct) + 1))
        found[[1]][units + 1] <- sapply(fits, coef)
        found[[2]][units + 1] <- sapply(fits, function(fit) sqrt(vcov(fit)))
        found
      }
    )
  ),
  cmprsk = list(
    incidence = list(
      work = function(rows, exact) cuminc(rows$days, rows$outcome, rows$group),
      read = function(fit) {
        curves <- fit[names(fit) != "Tests"]  # outcome by outcome, group by group
        groups <- nlevels(rows$group)
        order <- as.vector(t(matrix(seq_along(curves), groups)))
        list(incidence = unlist(lapply(curves[order], function(curve) at_days(curve$time, curve$est))))
      }
    ),
    gray = list(
      work = function(rows, exact) cuminc(rows$days, pmin(rows$outcome, 2), rows$group),
      read = function(fit) list(statistic = fit$Tests["2", "stat"])
    )
  )
)

job <- jobs[[package]][[question]]
invisible(job$work(rows[seq(1, nrow(rows), by = max(1, nrow(rows) %/% warm_up)), ], FALSE))
took <- c()
while (length(took) == 0 || (length(took) < several && sum(took) < enough)) {
  gc()
  began <- proc.time()[["elapsed"]]
  found <- job$work(rows, FALSE)
  took <- c(took, proc.time()[["elapsed"]] - began)
}
seconds <- median(took)
said <- as.character(packageVersion(package))
if (question == "screen") {
  seconds <- seconds * (max(rows$construct) + 1) / length(units)
  said <- paste0(said, ", from ", length(units), " of ", max(rows$construct) + 1)
}

if (question %in% c("cox", "screen")) found <- job$work(rows, TRUE)
figures <- job$read(found)
lines <- c(
  paste("version", said, sep = "\t"),
  paste("seconds", format(seconds, digits = 10), sep = "\t"),
  sapply(names(figures), function(name) {
    paste(name, paste(sprintf("%.17g", figures[[name]]), collapse = " "), sep = "\t")
  })
)
writeLines(gsub("NA|NaN", "nan", lines), answer)
