# Times the fit alone (not reading, not starting R) of the general-purpose
# mixed-model packages on a long frame made by main.go:
#   Rscript fit.R FRAME.csv [glmer]
suppressPackageStartupMessages(library(glmmTMB))
args <- commandArgs(trailingOnly = TRUE)
d <- read.csv(args[1]); d$interval <- factor(d$interval)
f <- cbind(y, r - y) ~ interval + habitat + (1 | site) + (1 | sh) + (1 | id) + offset(log(len))
t <- system.time(m <- glmmTMB(f, family = binomial("cloglog"), data = d))[["elapsed"]]
cat(sprintf("glmmTMB %s: %.2f s, loglik %.4f, habitatsand %.5f\n", packageVersion("glmmTMB"), t, logLik(m), fixef(m)$cond[["habitatsand"]]))
if ("glmer" %in% args) {
  suppressPackageStartupMessages(library(lme4))
  t <- system.time(m <- tryCatch(suppressWarnings(glmer(f, family = binomial("cloglog"), data = d)), error = conditionMessage))[["elapsed"]]
  if (is.character(m)) {
    cat(sprintf("lme4 %s: no fit (%s)\n", packageVersion("lme4"), m))
  } else {
    cat(sprintf("lme4 %s: %.2f s, loglik %.4f (Fisher weights: another Laplace), habitatsand %.5f\n", packageVersion("lme4"), t, logLik(m), fixef(m)[["habitatsand"]]))
  }
}
