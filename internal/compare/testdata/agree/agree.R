# Makes rows.csv, checks.csv (invented seasons), sets.csv (the model of each) and
# golden.csv (what each engine says). Run by hand in this folder:
#   Rscript agree.R [SET…]
# With names, only those sets are fitted and their lines of golden.csv replaced.
# Needs g++ and the Debian packages r-cran-{lme4,glmmtmb,tmb,survival,ordinal,vgam}.
suppressPackageStartupMessages({ library(glmmTMB); library(lme4); library(ordinal) })
source("sets.R"); source("engines.R")
dir <- tempfile(); dir.create(dir); file.copy("marginal.cpp", dir)
TMB::compile(file.path(dir, "marginal.cpp"), "-O1 -w"); dyn.load(TMB::dynlib(file.path(dir, "marginal")))
version <- c(glm = paste("stats", getRversion()), hand = paste("base R", getRversion()), vapply(c(glmmTMB = "glmmTMB", lme4 = "lme4", clmm = "ordinal", survreg = "survival", VGAM = "VGAM", TMB = "TMB"), function(n) paste(n, packageVersion(n)), ""))
only <- commandArgs(TRUE)
rows <- checks <- about <- golden <- NULL
if (length(only) && file.exists("golden.csv")) { golden <- read.csv("golden.csv", colClasses = "character"); golden <- golden[!golden$set %in% only, ] }
for (name in names(sets)) {
  p <- sets[[name]]; d <- draw(name)
  rows <- rbind(rows, d$r); checks <- rbind(checks, d$c)
  about <- rbind(about, data.frame(set = name, what = p$what, bands = p$bands, link = p$link, random = paste(group[p$random], collapse = " "), covariates = paste(p$covs, collapse = " "), check = p$check, family = p$family, soaks = length(p$later)))
  if (length(only) && !name %in% only) next
  for (e in p$engines) {
    add <- function(n, v) golden <<- rbind(golden, data.frame(set = name, engine = e, version = version[[e]], name = n, value = sprintf("%.10g", v)))
    m <- tryCatch(suppressWarnings(engines[[e]](d, p)), error = function(x) { message(name, " ", e, ": ", conditionMessage(x)); NULL })
    if (is.null(m)) next
    add("loglik", m$loglik)
    for (n in names(m$est)) add(n, m$est[[n]])
    for (n in names(m$se)) if (is.finite(m$se[[n]])) add(paste0("se:", n), m$se[[n]])
    for (n in names(m$sd)) add(paste0("sd:", n), m$sd[[n]])
    if (p$link == "cloglog" && p$family == "binomial" && length(p$random)) { # the true Laplace value where the engine ended
      a <- arrays(d, p); at <- m$est[colnames(a$X)]
      v <- tryCatch(laplace(a, at, m$sd[group[p$random]]), error = function(x) NA)
      if (is.finite(v)) add("laplace-there", v)
    }
    cat(sprintf("%-16s %-8s %.6f\n", name, e, m$loglik))
  }
}
write.csv(rows, "rows.csv", row.names = FALSE, quote = FALSE)
write.csv(checks, "checks.csv", row.names = FALSE, quote = FALSE, na = "")
write.csv(about, "sets.csv", row.names = FALSE)
write.csv(golden[order(match(golden$set, names(sets))), ], "golden.csv", row.names = FALSE, quote = FALSE)
