# Penalised likelihood (Jeffreys' penalty, Firth 1993) of binomial data where a
# level has no event. Run: Rscript separated.R
# Made with R 4.2.2, brglm2 0.9 (type MPL_Jeffreys).
suppressMessages(library(brglm2))
d <- data.frame(habitat = factor(rep(c("a", "b", "c"), each = 4)), interval = factor(rep(1:2, 6)),
                soak = c(1, 23, 1.2, 22, 1, 24, 1.1, 23, 0.9, 23, 1.3, 22.5),
                events = c(3, 10, 5, 8, 0, 0, 0, 0, 1, 6, 2, 9), trials = c(25, 22, 25, 20, 25, 25, 20, 20, 25, 24, 25, 23))
for (link in c("cloglog", "logit")) {
  m <- glm(cbind(events, trials - events) ~ interval + habitat + offset(log(soak)), binomial(link), d,
           method = "brglmFit", type = "MPL_Jeffreys", epsilon = 1e-12, maxit = 10000)
  cat(link, format(coef(m), digits = 10), "\n")
}
