# Makes profile_golden.csv: profile-likelihood limits of the SDs and of the habitat in
# three of the invented seasons of seasons.csv, by glmmTMB's own profile. Run by hand in
# this folder, after golden.R:  Rscript profile.R
# Made with R 4.2.2, glmmTMB 1.1.5.
suppressPackageStartupMessages(library(glmmTMB))
out <- read.csv("seasons.csv")
golden <- NULL
for (s in c("crossed", "big", "between")) {
  d <- out[out$season == s, ]
  long <- rbind(
    data.frame(d[, c("id", "site", "habitat")], interval = "1", y = d$c1, r = 25, len = d$t1),
    data.frame(d[, c("id", "site", "habitat")], interval = "2", y = d$c2 - d$c1, r = 25 - d$c1 - d$lost, len = d$t2 - d$t1))
  long <- long[long$r > 0, ]
  long$sh <- paste(long$site, long$habitat)
  random <- if (s == "between") "(1 | site) + (1 | id)" else "(1 | site) + (1 | sh) + (1 | id)"
  m <- glmmTMB(as.formula(paste("cbind(y, r - y) ~ interval + habitat + offset(log(len)) +", random)), family = binomial("cloglog"), data = long)
  groups <- names(VarCorr(m)$cond)
  for (k in seq_along(groups)) {
    ci <- tryCatch(confint(profile(m, parm = length(fixef(m)$cond) + k, precision = "quadratic", stepfac = 1/8)), error = function(e) c(NA, NA))
    golden <- rbind(golden, data.frame(season = s, what = groups[k], lower = exp(ci[1]), upper = exp(ci[2]), estimate = attr(VarCorr(m)$cond[[groups[k]]], "stddev")))
  }
  ci <- confint(profile(m, parm = 3, stepfac = 1/8))
  golden <- rbind(golden, data.frame(season = s, what = names(fixef(m)$cond)[3], lower = ci[1], upper = ci[2], estimate = fixef(m)$cond[[3]]))
}
write.csv(golden, "profile_golden.csv", row.names = FALSE, quote = FALSE)
