# Makes seasons.csv and golden.csv: invented seasons drawn from the grouped-time
# model, and what glmmTMB says of them. Run by hand in this folder:
#   Rscript golden.R
# Made with R 4.2.2, glmmTMB 1.1.5 (Laplace with the true Hessian).
suppressPackageStartupMessages(library(glmmTMB))
set.seed(20260101)
seasons <- list(
  crossed  = list(sites = 8,  rows = 3, rates = c(reef = .35, sand = .10), site = .5, sh = .4, dep = .3, later = .25),
  between  = list(sites = 12, rows = 3, rates = c(reef = .30, sand = .20), site = .6, sh = 0,  dep = .4, later = .2),
  three    = list(sites = 10, rows = 2, rates = c(grass = .5, reef = .3, sand = .08), site = .4, sh = .5, dep = .2, later = .3),
  calm     = list(sites = 9,  rows = 2, rates = c(reef = .05, sand = .02), site = .3, sh = .2, dep = .5, later = .5),
  big      = list(sites = 25, rows = 4, rates = c(grass = .2, reef = .4), site = .7, sh = .3, dep = .6, later = .15)
)
out <- NULL
for (s in names(seasons)) {
  p <- seasons[[s]]; k <- 0
  for (i in seq_len(p$sites)) {
    us <- rnorm(1, 0, p$site)
    habitats <- names(p$rates)
    if (s == "between") habitats <- habitats[(i - 1) %% length(habitats) + 1]
    for (h in habitats) {
      uh <- rnorm(1, 0, p$sh)
      for (r in seq_len(p$rows)) {
        k <- k + 1
        u <- us + uh + rnorm(1, 0, p$dep)
        lambda <- p$rates[[h]] * exp(u)
        t1 <- round(runif(1, .9, 1.3), 2); t2 <- round(runif(1, 22, 26), 2)
        y1 <- rbinom(1, 25, 1 - exp(-lambda * t1))
        lost <- rbinom(1, 25 - y1, .04)
        y2 <- rbinom(1, 25 - y1 - lost, 1 - exp(-lambda * p$later * (t2 - t1)))
        temp <- round(15 + us + rnorm(1), 1)
        out <- rbind(out, data.frame(season = s, id = paste0("D", k), site = paste0("s", i), habitat = h, t1, t2, c1 = y1, c2 = y1 + y2, lost, temp))
      }
    }
  }
}
write.csv(out, "seasons.csv", row.names = FALSE, quote = FALSE)
golden <- NULL
add <- function(season, model, name, value) golden <<- rbind(golden, data.frame(season, model, name, value = sprintf("%.8g", value)))
for (s in names(seasons)) {
  d <- out[out$season == s, ]
  long <- rbind(
    data.frame(d[, c("id", "site", "habitat", "temp")], interval = "1", y = d$c1, r = 25, len = d$t1),
    data.frame(d[, c("id", "site", "habitat", "temp")], interval = "2", y = d$c2 - d$c1, r = 25 - d$c1 - d$lost, len = d$t2 - d$t1))
  long <- long[long$r > 0, ]
  long$sh <- paste(long$site, long$habitat)
  random <- if (s == "between") "(1 | site) + (1 | id)" else "(1 | site) + (1 | sh) + (1 | id)"
  fit <- function(model, fixed, link, offset = TRUE) {
    f <- as.formula(paste("cbind(y, r - y) ~ interval +", fixed, "+", random, if (offset) "+ offset(log(len))" else ""))
    m <- glmmTMB(f, family = binomial(link), data = long)
    co <- summary(m)$coefficients$cond
    for (n in rownames(co)) { add(s, model, n, co[n, 1]); add(s, model, paste0("se:", n), co[n, 2]) }
    vc <- VarCorr(m)$cond
    for (g in names(vc)) add(s, model, paste0("sd:", g), attr(vc[[g]], "stddev"))
    add(s, model, "loglik", as.numeric(logLik(m)))
    m
  }
  full <- fit("cloglog", "habitat", "cloglog")
  null <- glmmTMB(as.formula(paste("cbind(y, r - y) ~ interval +", random, "+ offset(log(len))")), family = binomial("cloglog"), data = long)
  add(s, "cloglog", "chi2", 2 * (as.numeric(logLik(full)) - as.numeric(logLik(null))))
  fit("covariate", "habitat + temp", "cloglog")
  fit("logit", "habitat", "logit", offset = FALSE)
  last <- data.frame(d, y = d$c2, r = 25 - d$lost)
  bb <- glmmTMB(cbind(y, r - y) ~ habitat + (1 | site), family = betabinomial("logit"), data = last)
  co <- summary(bb)$coefficients$cond
  for (n in rownames(co)) add(s, "betabinomial", n, co[n, 1])
  add(s, "betabinomial", "loglik", as.numeric(logLik(bb)))
}
write.csv(golden, "golden.csv", row.names = FALSE, quote = FALSE)
