# Two more published data sets, with what other programs make of them.
#   Rscript published2.R
# Made with R 4.2.2, VGAM 1.1-7 (GPL-3), glmmTMB 1.1.5, KMsurv 0.1-5 (GPL-3).
suppressMessages({library(VGAM); library(glmmTMB)})
# Low-iron diets of pregnant rats, 58 litters: Moore & Tsiatis 1991, Biometrics
# 47:383-401; VGAM's data set lirat.
data(lirat)
write.csv(data.frame(group = lirat$grp, events = lirat$R, trials = lirat$N), "lirat.csv", row.names = FALSE, quote = FALSE)
m <- vglm(cbind(R, N - R) ~ factor(grp), VGAM::betabinomial(zero = 2), data = lirat, epsilon = 1e-12, maxit = 200)
b <- VGAM::coef(m); rho <- plogis(b[["(Intercept):2"]])
cat("lirat VGAM loglik", format(as.numeric(VGAM::logLik.vlm(m)), digits = 9), "beta", format(b[names(b) != "(Intercept):2"], digits = 8), "rho", format(rho, digits = 8), "\n")
g <- glmmTMB(cbind(R, N - R) ~ factor(grp), family = glmmTMB::betabinomial(), data = lirat)
cat("lirat glmmTMB loglik", format(as.numeric(logLik(g)), digits = 9), "beta", format(fixef(g)$cond, digits = 8), "se", format(sqrt(diag(vcov(g)$cond)), digits = 6), "rho", format(1 / (1 + sigma(g)), digits = 8), "\n")
# Cosmetic deterioration of the breast, interval-censored: Finkelstein & Wolfe
# 1985, Biometrics 41:933-945, from KMsurv's bcdeter. That copy has 95 cases and two
# with equal ends; the paper has 94, so the one at 34 is left out, and the one at 48
# is taken as not seen by then. Semiparametric proportional hazards by full maximum
# likelihood, the baseline's cumulative hazard jumping on Turnbull's intervals.
data(bcdeter, package = "KMsurv")
b <- bcdeter[!(bcdeter$lower == 34 & bcdeter$upper %in% 34), ]; b$upper[b$upper %in% 48 & b$lower == 48] <- NA
L <- b$lower; R <- ifelse(is.na(b$upper), Inf, b$upper); z <- as.numeric(b$treat == 2)
write.csv(data.frame(lower = L, upper = R, chemo = z), "cosmesis.csv", row.names = FALSE, quote = FALSE)
ends <- unique(rbind(data.frame(t = L, right = 0), data.frame(t = R, right = 1))); ends <- ends[order(ends$t, -ends$right), ] # (L, R]: a right end comes first
i <- which(ends$right[-nrow(ends)] == 0 & ends$right[-1] == 1); S <- ends$t[i + 1]; S <- S[is.finite(S)] # right ends of the support
A <- outer(L, S, ">="); B <- outer(R, S, ">=")
f <- function(th) {
  h <- exp(th[-1]); r <- exp(th[1] * z); HL <- drop(A %*% h) * r; HR <- ifelse(is.finite(R), drop(B %*% h) * r, Inf)
  v <- -sum(log(exp(-HL) - exp(-HR))); if (is.finite(v)) v else 1e9
}
o <- nlminb(c(.5, rep(-3, length(S))), f, lower = c(-5, rep(-25, length(S))), control = list(rel.tol = 1e-14, iter.max = 5000, eval.max = 9999))
profile <- function(b) nlminb(o$par[-1], function(th) f(c(b, th)), lower = rep(-25, length(S)), control = list(rel.tol = 1e-14, iter.max = 5000, eval.max = 9999))$objective
e <- .05
cat("cosmesis loglik", format(-o$objective, digits = 10), "beta", format(o$par[1], digits = 8), "without", format(-profile(0), digits = 10),
    "se", format(1 / sqrt((profile(o$par[1] + e) - 2 * profile(o$par[1]) + profile(o$par[1] - e)) / e^2), digits = 5), "\n")
# cbpp with the log-log link by lme4, whose Laplace takes Fisher weights: where it ends
m <- lme4::glmer(cbind(incidence, size - incidence) ~ period + (1 | herd), lme4::cbpp, binomial("cloglog"))
cat("cbpp lme4", as.character(packageVersion("lme4")), "loglik", format(as.numeric(logLik(m)), digits = 9), "beta", format(lme4::fixef(m), digits = 8), "sd", format(m@theta, digits = 8), "\n")
