# Invented seasons with known truth, and what glmmTMB makes of them: Laplace
# with the true second derivative, offset log soak, nested random intercepts.
# Run: Rscript nested.R    Made with R 4.2.2, glmmTMB 1.1.5, TMB 1.9.2.
# Writes nested_K.csv (one line an observation) and nested.csv (the values).
suppressMessages(library(glmmTMB))
ctl <- glmmTMBControl(optimizer = optim, optArgs = list(method = "BFGS"), optCtrl = list(maxit = 5000, reltol = 1e-14))

season <- function(seed, sites, habitats, rows, baits, base, late, ratio, sd, slope = 0, crossed = TRUE) {
  set.seed(seed)
  out <- NULL
  dep <- 0
  for (s in seq_len(sites)) {
    us <- rnorm(1, 0, sd[1]); x <- rnorm(1)
    hs <- if (crossed) seq_len(habitats) else (s - 1) %% habitats + 1
    for (h in hs) {
      uh <- rnorm(1, 0, sd[2])
      for (k in seq_len(rows)) {
        dep <- dep + 1
        u <- us + uh + rnorm(1, 0, sd[3])
        n <- if (length(baits) > 1) sample(baits, 1) else baits
        soak <- c(runif(1, 0.8, 1.6), runif(1, 20, 25))
        for (i in 1:2) {
          H <- soak[i] * exp(base + late * (i == 2) + log(ratio[h]) + slope * x + u)
          y <- rbinom(1, n, 1 - exp(-H))
          if (n > 0) out <- rbind(out, data.frame(site = s, habitat = h, deployment = dep, interval = i, soak = round(soak[i], 6), x = round(x, 6), events = y, trials = n))
          n <- n - y
        }
      }
    }
  }
  out
}

values <- NULL
add <- function(k, what, value) values <<- rbind(values, data.frame(set = k, what = what, value = format(value, digits = 10)))
keep <- function(k, d, m, groups) {
  write.csv(d, sprintf("nested_%d.csv", k), row.names = FALSE, quote = FALSE)
  add(k, "loglik", as.numeric(logLik(m)))
  b <- fixef(m)$cond; se <- sqrt(diag(vcov(m)$cond))
  for (j in seq_along(b)) { add(k, paste0("beta", j), b[j]); add(k, paste0("se", j), se[j]) }
  v <- VarCorr(m)$cond
  for (j in seq_along(groups)) add(k, paste0("sd", j), sqrt(v[[groups[j]]][1]))
  if (family(m)$family == "betabinomial") add(k, "phi", sigma(m))
  cat(k, "convergence", m$fit$convergence, "loglik", format(as.numeric(logLik(m)), digits = 10), "sd", sapply(groups, function(g) sqrt(v[[g]][1])), "\n")
}
three <- c("site", "habitat:site", "deployment:habitat:site")
fit3 <- function(d, form, ctl = get("ctl", globalenv())) { d$habitat <- factor(d$habitat); d$interval <- factor(d$interval); d$site <- factor(d$site); d$deployment <- factor(d$deployment)
  glmmTMB(form, d, family = binomial("cloglog"), control = ctl) }

# 1: habitats crossed with sites, three levels
d <- season(11, 10, 2, 4, 25, -2, -1.2, c(1, 2), c(0.6, 0.4, 0.5))
keep(1, d, fit3(d, cbind(events, trials - events) ~ interval + habitat + offset(log(soak)) + (1 | site/habitat/deployment)), three)
add(1, "null", as.numeric(logLik(fit3(d, cbind(events, trials - events) ~ interval + offset(log(soak)) + (1 | site/habitat/deployment), glmmTMBControl()))))
# 2: three habitats, a site covariate, unequal numbers of baits
d <- season(12, 14, 3, 3, c(12, 15, 20, 25), -1.5, -1.5, c(1, 1.5, 0.6), c(0.8, 0.3, 0.3), slope = 0.4)
m <- fit3(d, cbind(events, trials - events) ~ interval + habitat + x + offset(log(soak)) + (1 | site/habitat/deployment))
keep(2, d, m, three)
add(2, "null", as.numeric(logLik(fit3(d, cbind(events, trials - events) ~ interval + x + offset(log(soak)) + (1 | site/habitat/deployment), glmmTMBControl()))))
k <- c(0, 0, 1, -1, 0)
add(2, "difference", sum(k * fixef(m)$cond)); add(2, "se_difference", sqrt(drop(k %*% vcov(m)$cond %*% k)))
# 3: habitat between sites, site and deployment
d <- season(13, 12, 2, 5, 25, -2.5, -0.8, c(1, 1.8), c(0.7, 0, 0.6), crossed = FALSE)
keep(3, d, fit3(d, cbind(events, trials - events) ~ interval + habitat + offset(log(soak)) + (1 | site/deployment)), c("site", "deployment:site"))
# 4: sparse: few baits, few events
d <- season(14, 20, 2, 3, 8, -3.5, -1.5, c(1, 1.6), c(0.9, 0.5, 0.7))
keep(4, d, fit3(d, cbind(events, trials - events) ~ interval + habitat + offset(log(soak)) + (1 | site/habitat/deployment)), three)
# 5: an interaction of habitat and interval
d <- season(15, 12, 2, 4, 25, -1.8, -1.0, c(1, 2.2), c(0.5, 0.5, 0.4))
keep(5, d, fit3(d, cbind(events, trials - events) ~ interval * habitat + offset(log(soak)) + (1 | site/habitat/deployment)), three)
# 6: logit link, first check only
d <- subset(season(16, 12, 2, 4, 25, -1, -1, c(1, 2), c(0.7, 0.4, 0)), interval == 1)
dd <- d; dd$habitat <- factor(dd$habitat); dd$site <- factor(dd$site)
m <- glmmTMB(cbind(events, trials - events) ~ habitat + (1 | site/habitat), dd, family = binomial("logit"), control = ctl)
keep(6, d, m, three[1:2])
# 7: beta-binomial on one check, logit, site
d <- subset(season(17, 15, 2, 4, 25, -0.8, -1, c(1, 2), c(0.6, 0, 0.8)), interval == 1)
dd <- d; dd$habitat <- factor(dd$habitat); dd$site <- factor(dd$site)
m <- glmmTMB(cbind(events, trials - events) ~ habitat + (1 | site), dd, family = betabinomial("logit"))  # nlminb: optim loses its way here
keep(7, d, m, "site")
# 8: beta-binomial, complementary log-log
m <- glmmTMB(cbind(events, trials - events) ~ habitat + (1 | site), dd, family = betabinomial("cloglog"), control = ctl)
keep(8, d, m, "site")
write.csv(values, "nested.csv", row.names = FALSE, quote = FALSE)
