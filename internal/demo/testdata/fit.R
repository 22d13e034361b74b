# Fits the clean records of the invented season with a reference
# implementation: Rscript fit.R DIR, where DIR holds invented-season.csv.
# R 4.2.2, glmmTMB 1.1.5. One effect per check number with offset log of its
# length; rows whose first check was not made are left out.
suppressPackageStartupMessages(library(glmmTMB))
dir <- commandArgs(trailingOnly = TRUE)[1]
d <- read.csv(file.path(dir, "invented-season.csv"))
at <- function(x) as.POSIXct(sub("\\[.*", "", sub(":(\\d\\d)(\\[.*)?$", "\\1", x)), format = "%Y-%m-%dT%H:%M%z", tz = "UTC")
mid <- function(a, b) ifelse(is.na(b), as.numeric(a), (as.numeric(a) + as.numeric(b)) / 2)
set <- mid(at(d$deployed_at), at(d$deployed_until))
both1 <- !is.na(at(d$deployed_until)) & !is.na(at(d$check1_until))
t1 <- ifelse(both1, mid(at(d$check1_at), at(d$check1_until)) - set, as.numeric(at(d$check1_at)) - as.numeric(at(d$deployed_at))) / 3600
t2 <- ifelse(both1, mid(at(d$check2_at), at(d$check2_until)) - set, as.numeric(at(d$check2_at)) - as.numeric(at(d$deployed_at))) / 3600
ok <- d$control %in% c("", "none", NA) & !(d$practice %in% "yes") & !is.na(d$consumed_by_check1)
site.row <- paste(d$team, d$deployment_id)
one <- function(k) {
  if (k == 1) { y <- d$consumed_by_check1; r <- d$baits_deployed - d$lost_by_check1; len <- t1 }
  else { y <- d$consumed_by_check2 - d$consumed_by_check1; r <- d$baits_deployed - d$consumed_by_check1 - d$lost_by_check2; len <- t2 - t1 }
  data.frame(row = site.row, site = d$site, habitat = relevel(factor(d$habitat), "sand"), temp = d$temperature_c, k = factor(k), y = y, r = r, len = len)[ok, ]
}
x <- rbind(one(1), one(2)); x <- x[!is.na(x$y) & x$r > 0, ]
cat(nrow(x), "intervals of", length(unique(x$row)), "rows\n")
fit <- function(x, f) glmmTMB(f, family = binomial("cloglog"), data = x, offset = log(len))
m <- fit(x, cbind(y, r - y) ~ habitat + k + (1 | site) + (1 | site:habitat) + (1 | row))
print(summary(m)$coefficients$cond); print(VarCorr(m)); print(logLik(m))
x$habitat <- relevel(x$habitat, "seagrass")
print(summary(fit(x, cbind(y, r - y) ~ habitat + k + (1 | site) + (1 | site:habitat) + (1 | row)))$coefficients$cond["habitatreef", ])
y <- x[!is.na(x$temp), ]
print(summary(fit(y, cbind(y, r - y) ~ habitat + temp + k + (1 | site) + (1 | site:habitat) + (1 | row)))$coefficients$cond)
