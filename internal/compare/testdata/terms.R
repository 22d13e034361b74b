# Makes terms.csv and terms_golden.csv: one invented season with further columns, and
# what glmmTMB says of it under models with several terms. Run by hand in this folder:
#   Rscript terms.R
# Made with R 4.2.2, glmmTMB 1.1.5 (Laplace with the true Hessian), splines 4.2.2.
suppressPackageStartupMessages({library(glmmTMB); library(splines)})
set.seed(20260303)
out <- NULL; k <- 0
observers <- c("Ana", "Bo", "Cy", "Di", "Ed", "Flo", "Gus")
obs <- setNames(rnorm(7, 0, .35), observers)
bat <- setNames(rnorm(5, 0, .3), paste0("b", 1:5))
reg <- rnorm(6, 0, .5)
for (i in 1:30) {
  us <- rnorm(1, 0, .4); ts <- rnorm(1, 19, 2.5)
  for (h in c("grass", "reef")) {
    uh <- rnorm(1, 0, .3)
    for (v in 1:2) {
      uv <- rnorm(1, 0, .3)
      for (r in 1:2) {
        k <- k + 1
        temp <- round(ts + rnorm(1, 0, 1), 1)
        zone <- sample(c("crest", "flat", "slope"), 1)
        o <- sample(observers, 1); b <- sample(names(bat), 1)
        u <- reg[(i - 1) %/% 5 + 1] + us + uh + uv + rnorm(1, 0, .3) + obs[[o]] + bat[[b]]
        eta <- log(.2) + (h == "reef") * (.5 + .08 * (temp - 19)) + .1 * (temp - 19) - .02 * (temp - 19)^2 + .3 * (zone == "slope") + u
        t1 <- round(runif(1, .9, 1.3), 2); t2 <- round(runif(1, 22, 26), 2)
        y1 <- rbinom(1, 25, 1 - exp(-exp(eta) * t1))
        lost <- rbinom(1, 25 - y1, .04)
        y2 <- rbinom(1, 25 - y1 - lost, 1 - exp(-exp(eta - 1.8 + .4 * (h == "reef")) * (t2 - t1)))
        out <- rbind(out, data.frame(season = "terms", id = paste0("D", k), region = paste0("r", (i - 1) %/% 5 + 1), site = paste0("s", i),
          habitat = h, day = v, observer = o, batch = b, zone, temp, t1, t2, c1 = y1, c2 = y1 + y2, lost))
      }
    }
  }
}
write.csv(out, "terms.csv", row.names = FALSE, quote = FALSE)
keep <- c("id", "region", "site", "habitat", "day", "observer", "batch", "zone", "temp")
long <- rbind(
  data.frame(out[, keep], interval = "1", y = out$c1, r = 25, len = out$t1),
  data.frame(out[, keep], interval = "2", y = out$c2 - out$c1, r = 25 - out$c1 - out$lost, len = out$t2 - out$t1))
long <- long[long$r > 0, ]
long$sh <- paste(long$site, long$habitat)
long$visit <- paste(long$sh, long$day)
b <- tapply(out$temp, out$site, mean)
long$tb <- b[long$site]; long$tw <- long$temp - long$tb
q <- quantile(out$temp, c(.05, .35, .65, .95))
golden <- NULL
add <- function(model, name, value) golden <<- rbind(golden, data.frame(model, name, value = sprintf("%.8g", value)))
usual <- "(1 | site) + (1 | sh) + (1 | id)"
fit <- function(model, fixed, null, random = usual) {
  make <- function(fixed) glmmTMB(as.formula(paste("cbind(y, r - y) ~", fixed, "+", random, "+ offset(log(len))")), family = binomial("cloglog"), data = long)
  m <- make(fixed)
  co <- summary(m)$coefficients$cond
  if (model != "curve") for (n in rownames(co)) { add(model, n, co[n, 1]); add(model, paste0("se:", n), co[n, 2]) }
  vc <- VarCorr(m)$cond
  for (g in names(vc)) add(model, paste0("sd:", g), attr(vc[[g]], "stddev"))
  add(model, "loglik", as.numeric(logLik(m)))
  for (g in names(null)) add(model, paste0("chi2:", g), 2 * (as.numeric(logLik(m)) - as.numeric(logLik(make(null[[g]])))))
}
fit("factors", "interval + habitat + zone + temp", c(habitat = "interval + zone + temp", "zone=flat,zone=slope" = "interval + habitat + temp", temp = "interval + habitat + zone", bands = "interval + habitat + zone + temp"))
fit("squared", "interval + habitat + temp + I(temp^2)", c(habitat = "interval + temp + I(temp^2)", "temp-squared" = "interval + habitat + temp"))
fit("curve", "interval + habitat + ns(temp, knots = q[2:3], Boundary.knots = q[c(1, 4)])", c(habitat = "interval + ns(temp, knots = q[2:3], Boundary.knots = q[c(1, 4)])", "temp-curve1,temp-curve2" = "interval + habitat + temp"))
fit("habitat,temp", "interval + habitat * temp", c(habitat = "interval + temp", "habitat=reef with temp" = "interval + habitat + temp"))
fit("habitat,zone", "interval + habitat * zone", c(habitat = "interval + zone", "habitat=reef with zone=flat,habitat=reef with zone=slope" = "interval + habitat + zone"))
fit("habitat,time", "interval * habitat", c(habitat = "interval", bands = "interval + habitat"))
fit("split", "interval + habitat + tb + tw", c(habitat = "interval + tb + tw", "temp-between" = "interval + habitat + tw", "temp-within" = "interval + habitat + tb"))
fit("chain", "interval + habitat", c(habitat = "interval"), "(1 | region) + (1 | site) + (1 | sh) + (1 | visit) + (1 | id)")
fit("crossed", "interval + habitat", c(habitat = "interval"), "(1 | site) + (1 | sh) + (1 | id) + (1 | observer) + (1 | batch)")
fit("crossed-coarse", "interval + habitat", c(habitat = "interval"), "(1 | site) + (1 | observer)")
# the test of one ratio for all bands against a ratio for each, of the plain model
golden <- golden[golden$name != "chi2:bands" | golden$model == "habitat,time", ]
write.csv(golden, "terms_golden.csv", row.names = FALSE, quote = TRUE)
