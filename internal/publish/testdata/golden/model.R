# Fits the comparison again with other programs: Bait consumption on two invented shores, 2025
# Invented data: no such programme, places or people.
# Needs R with the package glmmTMB; lme4 is used as well where it is installed.
# Run it in any folder: Rscript model.R

by <- "habitat"
link <- "cloglog"
family_name <- "binomial"
covariates <- character(0)
use_offset <- TRUE
terms <- data.frame(
  column = c("x1", "x2"),
  term = c("baseline", "interval2"),
  aliased = c(FALSE, FALSE),
  tested = c(FALSE, FALSE),
  estimate = c(NA, NA),
  se = c(NA, NA))
spreads <- data.frame(
  column = c("g1", "g2"),
  group = c("site", "deployment"),
  sd = c(NA, NA))
ours <- list(fitted = FALSE, usable = FALSE, loglik = NA, chi2 = NA, df = 0, deployments = 2, intervals = 3)
not_reproduced <- c("time bands at the nominal soaks with exact overlaps (here: one effect for each check)", "means over all rows with their limits, limits that hold for all contrasts together, adjusted p values", "repetitions with something changed, and checks of the model")

options(digits = 8)
file <- sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE))
here <- if (length(file)) dirname(file[1]) else "."
if (!requireNamespace("glmmTMB", quietly = TRUE)) {
  cat("The package glmmTMB is not installed; nothing was compared.\n")
  quit(status = 2)
}
suppressPackageStartupMessages(library(glmmTMB))
d <- read.csv(file.path(here, "frame.csv"), fileEncoding = "UTF-8", na.strings = character(0), check.names = FALSE,
  colClasses = c(deployment_id = "character", site = "character", habitat = "character", compared = "character"))
off <- character(0)
wrong <- function(what) off <<- c(off, what)
near <- function(a, b, tolerance) is.finite(a) && is.finite(b) && abs(a - b) <= tolerance

# 1. The frame: the columns of the design, made again from what was seen.
cat("Frame:", nrow(d), "intervals of", length(unique(d$row)), "rows of stakes\n")
if (nrow(d) != ours$intervals || length(unique(d$row)) != ours$deployments) wrong("the number of rows or intervals")
for (i in seq_len(nrow(terms))) {
  t <- terms$term[i]
  again <- NULL
  if (t == "baseline") again <- rep(1, nrow(d))
  else if (grepl(" with ", t, fixed = TRUE)) again <- NULL # a product of two others
  else if (grepl("^interval[0-9]+$", t)) again <- as.numeric(d$check == as.integer(sub("interval", "", t)))
  else if (startsWith(t, paste0(by, "="))) again <- as.numeric(d$compared == substring(t, nchar(by) + 2))
  else for (j in seq_along(covariates)) {
    v <- d[[paste0("covariate", j)]]
    if (t == covariates[j]) again <- suppressWarnings(as.numeric(v))
    else if (t == paste0(covariates[j], "-squared")) again <- suppressWarnings(as.numeric(v))^2
    else if (startsWith(t, paste0(covariates[j], "="))) again <- as.numeric(v == substring(t, nchar(covariates[j]) + 2))
  }
  if (is.null(again)) cat("  ", t, ": taken from the frame as it stands\n", sep = "")
  else if (!isTRUE(all(abs(again - d[[terms$column[i]]]) < 1e-9))) wrong(paste("the column of", t))
}

# 2. The model, on the intervals that are not at the limit of a term without a
# finite maximum; a spread of zero is left out, which does not change the likelihood.
keep <- d$at_limit == "no"
d <- d[keep, , drop = FALSE]
columns <- c(terms$column[!is.na(terms$estimate)], terms$column[is.na(terms$estimate) & !terms$aliased])
if (nrow(d) && length(columns)) {
  q <- qr(as.matrix(d[columns]), tol = 1e-9)
  columns <- columns[sort(q$pivot[seq_len(q$rank)])]
}
in_use <- if (ours$fitted) spreads$column[!is.na(spreads$sd) & spreads$sd > 0] else spreads$column
for (g in in_use) d[[g]] <- factor(d[[g]])
d$length_h <- d$to_h - d$from_h
model <- function(columns) as.formula(paste("cbind(consumed, at_risk - consumed) ~ 0",
  paste(c(columns, if (length(in_use)) paste0("(1 | ", in_use, ")"), if (use_offset) "offset(log(length_h))"), collapse = " + "), sep = " + "))
with_glmmTMB <- function(columns) glmmTMB(model(columns),
  family = if (family_name == "betabinomial") betabinomial(link) else binomial(link), data = d)

line <- function(what, a, b, tolerance) {
  ok <- near(a, b, tolerance)
  cat(sprintf("  %-34s %14.6f %14.6f   within %.1e: %s\n", what, a, b, tolerance, if (ok) "yes" else "NO"))
  if (!ok) wrong(what)
}

if (!ours$fitted && nrow(d)) {
  cat("The comparison itself was not fitted; this is the model alone.\n")
  print(summary(with_glmmTMB(columns)))
  quit(status = 0)
}
if (!ours$usable || !nrow(d)) {
  cat("The comparison has no estimates, so there is nothing to set beside others.\n")
} else {
  m <- suppressWarnings(with_glmmTMB(columns))
  cat("\nglmmTMB", as.character(packageVersion("glmmTMB")), "on", R.version.string, "\n")
  cat(sprintf("  %-34s %14s %14s\n", "", "Soakline", "glmmTMB"))
  # Both climb to the same maximum and stop within their own tolerance of it:
  # 0.001 in the log-likelihood is 0.04 standard errors at most in an estimate.
  line("log-likelihood", ours$loglik, as.numeric(logLik(m)), 1e-3)
  s <- summary(m)$coefficients$cond
  for (i in which(terms$column %in% columns & !is.na(terms$estimate))) {
    r <- s[match(terms$column[i], rownames(s)), ]
    line(terms$term[i], terms$estimate[i], r[[1]], 0.04 * terms$se[i] + 1e-3)
    line(paste("  standard error of", terms$term[i]), terms$se[i], r[[2]], 0.03 * terms$se[i] + 1e-3)
  }
  v <- VarCorr(m)$cond
  for (g in in_use) {
    sd <- spreads$sd[spreads$column == g]
    line(paste("SD of", spreads$group[spreads$column == g]), sd, attr(v[[g]], "stddev")[[1]], 0.02 * sd + 5e-3)
  }
  if (!is.na(ours$chi2) && all(keep) && any(terms$tested & !terms$aliased)) {
    m0 <- suppressWarnings(with_glmmTMB(setdiff(columns, terms$column[terms$tested])))
    # an intercept that is zero in the whole model may not be so in the smaller one
    if (length(in_use) == nrow(spreads)) line("likelihood ratio", ours$chi2, 2 * as.numeric(logLik(m) - logLik(m0)), 4e-3)
    else not_reproduced <- c(not_reproduced, "the likelihood ratio: a spread of zero may not be zero in the smaller model")
  }
  if (family_name == "binomial" && length(in_use) && requireNamespace("lme4", quietly = TRUE)) {
    l <- try(suppressMessages(suppressWarnings(lme4::glmer(model(columns), family = binomial(link), data = d,
      control = lme4::glmerControl(optimizer = "bobyqa", calc.derivs = FALSE)))), silent = TRUE)
    if (!inherits(l, "try-error")) {
      # Told, not held: with this link its Laplace approximation takes the expected
      # information where ours and glmmTMB's take the observed one.
      cat("\nlme4", as.character(packageVersion("lme4")), "(another form of Laplace's approximation; to look at, not held)\n")
      f <- lme4::fixef(l)
      for (i in which(terms$column %in% names(f) & !is.na(terms$estimate)))
        cat(sprintf("  %-34s %14.6f %14.6f\n", terms$term[i], terms$estimate[i], f[[terms$column[i]]]))
      cat(sprintf("  %-34s %14.6f %14.6f\n", "log-likelihood", ours$loglik, as.numeric(logLik(l))))
    }
  }
}

cat("\nNot found again here:\n", paste0("  - ", not_reproduced, "\n"), sep = "")
if (any(!keep)) cat(sprintf("  - %d intervals at the limit of a term without a finite maximum were left out\n", sum(!keep)))
if (any(!is.na(spreads$sd) & spreads$sd == 0)) cat("  - spreads of zero were left out:", spreads$group[!is.na(spreads$sd) & spreads$sd == 0], "\n")
if (length(off)) {
  cat("\nOFF:", paste(unique(off), collapse = "; "), "\n")
  quit(status = 1)
}
cat("\nAll within tolerance.\n")
