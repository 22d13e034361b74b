# Published data sets used as checks, written as the counts the tests read,
# with what general-purpose engines make of them. Run: Rscript published.R
# Made with R 4.2.2, glmmTMB 1.1.5, lme4 1.1-31, MASS 7.3-58.2, survival 3.5-3.
suppressMessages({library(lme4); library(glmmTMB)})
d <- lme4::cbpp   # Lesnoff et al. 2004, Prev. Vet. Med. 64:27-40
write.csv(data.frame(group = as.integer(d$herd), period = as.integer(d$period), events = d$incidence, trials = d$size),
          "cbpp.csv", row.names = FALSE)
for (link in c("cloglog", "logit")) {
  m <- glmmTMB(cbind(incidence, size - incidence) ~ period + (1 | herd), d, family = binomial(link))
  cat("cbpp", link, "loglik", format(as.numeric(logLik(m)), digits = 10), "beta", format(fixef(m)$cond, digits = 8),
      "se", format(sqrt(diag(vcov(m)$cond)), digits = 6), "sd", format(sqrt(VarCorr(m)$cond$herd[1]), digits = 8), "\n")
}
b <- MASS::bacteria   # Venables & Ripley 2002, section 10.4
write.csv(data.frame(group = as.integer(b$ID), drug = as.integer(b$trt == "drug"), drugplus = as.integer(b$trt == "drug+"),
                     late = as.integer(b$week > 2), events = as.integer(b$y == "y"), trials = 1), "bacteria.csv", row.names = FALSE)
m <- glmmTMB((y == "y") ~ trt + I(week > 2) + (1 | ID), b, family = binomial)
cat("bacteria loglik", format(as.numeric(logLik(m)), digits = 10), "beta", format(fixef(m)$cond, digits = 8), "se", format(sqrt(diag(vcov(m)$cond)), digits = 6),
    "sd", format(sqrt(VarCorr(m)$cond$ID[1]), digits = 8), "\n")
t <- HSAUR3::toenail   # De Backer et al. 1998; Lesaffre & Spiessens 2001, Appl. Stat. 50:325-335 (HSAUR3 1.0-13)
write.csv(data.frame(group = as.integer(t$patientID), treated = as.integer(t$treatment == levels(t$treatment)[2]), month = t$time,
                     events = as.integer(t$outcome == levels(t$outcome)[2]), trials = 1), "toenail.csv", row.names = FALSE)
m <- glmmTMB(outcome ~ treatment * time + (1 | patientID), t, family = binomial)
cat("toenail Laplace loglik", format(as.numeric(logLik(m)), digits = 10), "beta", format(fixef(m)$cond, digits = 8),
    "sd", format(sqrt(VarCorr(m)$cond$patientID[1]), digits = 8), "\n")
m <- lme4::glmer(outcome ~ treatment * time + (1 | patientID), t, family = binomial, nAGQ = 20)
cat("toenail 20 points loglik", format(as.numeric(logLik(m)), digits = 10), "beta", format(lme4::fixef(m), digits = 8), "sd", format(m@theta, digits = 8), "\n")
