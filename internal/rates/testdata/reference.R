# Makes the reference values that the tests of package rates compare with.
# Run in this directory: Rscript reference.R > reference.txt
# Needs R with survival and KMsurv; versions are printed at the head of the output.
cat("#", R.version.string, "survival", format(packageVersion("survival")), "KMsurv", format(packageVersion("KMsurv")), "\n")
options(digits = 15)
library(survival)
data(bcdeter, package = "KMsurv")

# bcdeter.csv: Finkelstein and Wolfe (1985), Biometrics 41:933-945, as in Klein and
# Moeschberger, Survival Analysis, section 1.18; KMsurv is LGPL-3, the numbers are published data.
head <- c("# Time to cosmetic deterioration of the breast, months: 1 radiotherapy, 2 radiotherapy and chemotherapy.",
          "# Finkelstein and Wolfe (1985), Biometrics 41:933-945; Klein and Moeschberger, section 1.18; from R package KMsurv.")
writeLines(c(head, "lower,upper,treat", apply(format(as.matrix(bcdeter), trim = TRUE), 1, paste, collapse = ",")), "bcdeter.csv")

cat("\n# clopper-pearson and jeffreys: x n level lower upper\n")
for (n in c(5, 25, 200)) for (x in unique(c(0, 1, floor(n / 3), n - 1, n))) for (level in c(.9, .95, .99)) {
  a <- (1 - level) / 2
  cat("cp", x, n, level, if (x == 0) 0 else qbeta(a, x, n - x + 1), if (x == n) 1 else qbeta(1 - a, x + 1, n - x), "\n")
  cat("jeffreys", x, n, level, if (x == 0) 0 else qbeta(a, x + .5, n - x + .5), if (x == n) 1 else qbeta(1 - a, x + .5, n - x + .5), "\n")
  z <- qnorm(1 - a); p <- x / n
  ci <- prop.test(x, n, conf.level = level, correct = FALSE)$conf.int
  cat("wilson", x, n, level, ci[1], ci[2], "\n")
}

cat("\n# turnbull of bcdeter: treat time survival\n")
for (tr in 1:2) {
  d <- bcdeter[bcdeter$treat == tr, ]
  f <- survfit(Surv(ifelse(d$lower == 0, NA, d$lower), d$upper, type = "interval2") ~ 1)
  for (at in c(3, 20, 34)) cat("turnbull", tr, at, summary(f, times = at)$surv, "\n")
}

cat("\n# survreg on bcdeter with treatment left out and in: loglik\n")
s <- with(bcdeter, Surv(ifelse(lower == 0, NA, lower), upper, type = "interval2"))
for (dist in c("exponential", "weibull")) for (tr in 1:2) {
  m <- survreg(s ~ 1, dist = dist, subset = bcdeter$treat == tr, control = survreg.control(rel.tolerance = 1e-12))
  cat("survreg", dist, tr, m$loglik[2], exp(coef(m)), 1 / m$scale, "\n")
}
for (dist in c("exponential", "weibull")) {
  cat("survreg-both", dist, survreg(s ~ 1, dist = dist)$loglik[2], survreg(s ~ treat, data = bcdeter, dist = dist)$loglik[2], "\n")
}

# One row as grouped counts: n, soaks, cumulative consumed and lost; each bait an
# interval-censored time. survreg has no profile limits: uniroot on its likelihood.
cat("\n# rows: name rate lower upper | weibull scale shape loglik\n")
rowfit <- function(name, n, h, C, L) {
  t0 <- c(0, head(h, -1)); y <- diff(c(0, C)); lost <- diff(c(0, L))
  left <- right <- w <- numeric()
  add <- function(a, b, k) if (k > 0) { left <<- c(left, a); right <<- c(right, b); w <<- c(w, k) }
  for (k in seq_along(h)) { add(t0[k], h[k], y[k]); if (t0[k] > 0) add(t0[k], Inf, lost[k]) }
  add(h[length(h)], Inf, n - C[length(C)] - L[length(L)])
  S <- Surv(ifelse(left == 0, NA, left), ifelse(is.finite(right), right, NA), type = "interval2")
  m <- survreg(S ~ 1, weights = w, dist = "exponential", control = survreg.control(rel.tolerance = 1e-13, maxiter = 200))
  rate <- exp(-coef(m))
  ll <- function(r) sum(w * log(exp(-r * left) - exp(-r * right)))
  cut <- function(x) 2 * (ll(rate) - ll(exp(x))) - qchisq(.95, 1)
  lo <- exp(uniroot(cut, c(log(rate) - 4, log(rate)), tol = 1e-13)$root)
  hi <- exp(uniroot(cut, c(log(rate), log(rate) + 4), tol = 1e-13)$root)
  cat("row", name, rate, lo, hi)
  if (length(h) > 2) {
    m <- survreg(S ~ 1, weights = w, dist = "weibull", control = survreg.control(rel.tolerance = 1e-13, maxiter = 200))
    cat("", exp(coef(m)), 1 / m$scale, m$loglik[2] - ll(rate))
  }
  cat("\n")
}
rowfit("late-loss", 25, c(1, 24), c(10, 13), c(0, 10))
rowfit("plain", 25, c(1, 24), c(9, 21), c(0, 0))
rowfit("slow", 25, c(1.1, 26), c(0, 6), c(0, 1))
rowfit("four", 25, c(1, 3, 9, 24), c(3, 9, 15, 22), c(0, 0, 1, 2))
