# The invented seasons of the agreement tables, one list entry a data set: how
# it is drawn and which model is fitted. Used by agree.R.
#
# A season: sites x habitats x rows of baits; a row's hazard (1/h) is
# rates[habitat] * later[band] * exp(site + site-habitat + row), constant in the
# bands cut at `cuts` (h); counts are binomial interval by interval; baits are
# lost between checks with probability `lost`. `edit` makes the hard case.
usual <- function(...) modifyList(list(
  sites = 8, rows = 3, baits = 25, rates = c(reef = .35, sand = .10), later = c(1, .25), cuts = 1,
  sd = c(.5, .4, .3), soaks = c(1, 24), jitter = FALSE, lost = 0, between = FALSE, edit = NULL,
  bands = "checks", link = "cloglog", random = c("site", "sh", "id"), covs = character(), check = 0,
  family = "binomial", engines = c("glmmTMB", "clmm"), what = ""), list(...))
three <- list(later = c(1, .5, .2), cuts = c(1, 6), soaks = c(1, 6, 24))
with3 <- function(...) do.call(usual, modifyList(three, list(...)))

# the counts of a habitat, or of rows, set by hand
nothing <- function(rows, checks) function(d) { i <- d$c$id %in% d$r$id[rows(d$r)] & d$c$check %in% checks; d$c$consumed[i] <- 0; d }
relabel <- function(d, f) { d$r <- f(d$r); d }

sets <- list(
  crossed = usual(what = "habitats crossed with sites", engines = c("glmmTMB", "clmm", "lme4")),
  between = usual(what = "one habitat at each site", sites = 12, between = TRUE, random = c("site", "id")),
  habitats = usual(what = "three habitats", sites = 10, rows = 2, rates = c(grass = .5, reef = .3, sand = .08)),
  checks3 = with3(what = "three checks", engines = c("glmmTMB", "clmm", "lme4")),
  checks4 = usual(what = "four checks", sites = 6, rows = 2, later = c(1, .6, .4, .2), cuts = c(1, 3, 8), soaks = c(1, 3, 8, 24)),
  losses = usual(what = "soaks off nominal, baits lost", jitter = TRUE, lost = .08, engines = c("glmmTMB", "TMB")),
  numbers = usual(what = "8 to 40 baits a row, soaks off nominal", jitter = TRUE, lost = .03, baits = c(8, 40), engines = c("glmmTMB", "TMB")),
  covariate = usual(what = "a covariate given as 2015.3", covs = "x", jitter = TRUE, lost = .03,
    edit = function(d) relabel(d, function(r) { r$x <- r$x + 2000; r }), engines = c("glmmTMB", "TMB")),
  covariates = usual(what = "two covariates and one in words", covs = c("x", "x2", "moon"), sites = 10),
  rare = usual(what = "little is consumed", rates = c(reef = .012, sand = .004), later = c(1, .5), engines = c("glmmTMB", "clmm", "lme4")),
  rich = usual(what = "nearly everything is consumed", rates = c(reef = 1.6, sand = .9), later = c(1, .3)),
  few_baits = usual(what = "5 baits a row", baits = 5, sites = 12, rows = 2),
  wide = usual(what = "large differences between sites", sd = c(1.6, .5, .5), sites = 12),
  zero_site = usual(what = "variance at zero: sites alike", sd = c(0, .5, .4),
    edit = function(d) { # every site gets the rows of the first
      for (k in unique(d$c$check)) for (h in unique(d$r$habitat)) {
        first <- d$r$id[d$r$site == "s01" & d$r$habitat == h]
        for (s in unique(d$r$site)) { to <- d$r$id[d$r$site == s & d$r$habitat == h]
          d$c$consumed[match(paste(to, k), paste(d$c$id, d$c$check))] <- d$c$consumed[match(paste(first, k), paste(d$c$id, d$c$check))] } }
      d }),
  zero_all = usual(what = "variance at zero: everything alike", edit = function(d) {
      h <- d$r$habitat[match(d$c$id, d$r$id)]
      d$c$consumed <- ifelse(d$c$check == 1, ifelse(h == "reef", 7, 2), ifelse(h == "reef", 21, 12)) + (as.integer(substring(d$c$id, 2)) %% 2)
      d }, engines = c("glm", "glmmTMB", "clmm")),
  one_site = usual(what = "one site", sites = 1, rows = 6, random = c("sh", "id"), sd = c(0, 0, .5), engines = c("glmmTMB", "TMB")),
  four = usual(what = "four deployments", sites = 2, rows = 1, random = "id", sd = c(.3, 0, .3), engines = c("glmmTMB", "TMB")),
  one_each = usual(what = "one deployment a site", sites = 16, rows = 1, between = TRUE, random = "site", engines = c("glmmTMB", "TMB", "clmm")),
  nothing = usual(what = "nothing consumed", sites = 4, rows = 1, random = character(), edit = nothing(function(r) rep(TRUE, nrow(r)), 1:2), engines = c("glm", "glmmTMB")),
  everything = usual(what = "everything consumed by the first check", sites = 4, rows = 1, random = character(), soaks = 1,
    edit = function(d) { d$c$consumed <- 25; d }, engines = c("glm", "glmmTMB")),
  no_band = usual(what = "no event in one band", edit = function(d) {
      i <- d$c$check == 2; d$c$consumed[i] <- d$c$consumed[match(paste(d$c$id[i], 1), paste(d$c$id, d$c$check))]; d }, engines = c("glmmTMB", "TMB", "hand")),
  none_level = usual(what = "separation: nothing consumed in one habitat", rates = c(reef = .35, sand = .10, weed = .2), rows = 2,
    edit = nothing(function(r) r$habitat == "weed", 1:2), engines = c("glmmTMB", "TMB")),
  all_level = usual(what = "separation: one habitat bare by the first check", soaks = 1, later = 1, cuts = numeric(), random = c("site", "sh"), rates = c(reef = .35, sand = .10, weed = .2), rows = 2,
    edit = function(d) { i <- d$c$id %in% d$r$id[d$r$habitat == "weed"]; d$c$consumed[i] <- 25; d }, engines = c("glmmTMB", "TMB")),
  empty_site = usual(what = "one site without any event", sd = c(.8, .3, .3), edit = nothing(function(r) r$site == "s03", 1:2)),
  emptied = usual(what = "rows with nobody left at the second check", rates = c(reef = 1.9, sand = .3), engines = c("glmmTMB", "clmm")),
  aliased = usual(what = "a covariate that is the habitat", covs = "x", edit = function(d) relabel(d, function(r) { r$x <- as.numeric(r$habitat == "sand"); r })),
  aliased2 = usual(what = "a covariate made of two others", covs = c("x", "x2", "x3"), edit = function(d) relabel(d, function(r) { r$x3 <- r$x + 2 * r$x2; r })),
  schedules = with3(what = "mixed schedules: two and three checks", sites = 9, bands = "nominal",
    edit = function(d) { n <- as.integer(substring(d$c$id, 2)); d$c <- d$c[!(n %% 3 == 0 & d$c$check == 2), ]
      i <- as.integer(substring(d$c$id, 2)) %% 3 == 0 & d$c$check == 3; d$c$check[i] <- 2; d$r$protocol <- ifelse(as.integer(substring(d$r$id, 2)) %% 3 == 0, "two", "three"); d },
    engines = c("TMB", "hand")),
  missed = with3(what = "missed checks, merged intervals", bands = "nominal", edit = function(d) {
      n <- as.integer(substring(d$c$id, 2)); d$c$consumed[(n %% 4 == 0 & d$c$check == 2) | (n %% 5 == 0 & d$c$check == 1)] <- NA; d }, engines = c("TMB", "hand")),
  missed_left_out = with3(what = "missed checks, merged intervals left out", edit = function(d) {
      n <- as.integer(substring(d$c$id, 2)); d$c$consumed[(n %% 4 == 0 & d$c$check == 2)] <- NA; d }, engines = c("glmmTMB", "TMB")),
  nominal = usual(what = "soaks off nominal, exact overlap", jitter = TRUE, lost = .05, bands = "nominal", engines = c("TMB", "hand")),
  late = usual(what = "one habitat always read late", bands = "nominal", soaks = list(reef = c(1, 24), sand = c(1.5, 24)), random = c("site", "id"), sd = c(.4, 0, .3), engines = c("TMB", "hand")),
  unread = usual(what = "baits unread at one check", bands = "nominal", jitter = TRUE, sites = 6, edit = function(d) {
      n <- as.integer(substring(d$c$id, 2)); i <- d$c$check == 1 & n %% 2 == 0
      d$c$unread[i] <- pmin(4, 25 - d$c$consumed[i]); d }, engines = c("TMB", "hand")),
  controls = usual(what = "control rows subtracted", bands = "nominal", rates = c(reef = .25, sand = .08, shut = .02), later = c(1, .6), soaks = c(1, 24),
    random = c("site", "id"), sd = c(.3, 0, .2), rows = 2, edit = function(d) relabel(d, function(r) { r$control <- as.integer(r$habitat == "shut"); r$habitat[r$habitat == "shut"] <- "sand"; r }), engines = c("TMB", "hand")),
  logit = usual(what = "logit link", link = "logit", lost = .03, engines = c("glmmTMB", "lme4")),
  logit3 = usual(what = "logit link, three habitats, soaks off nominal", link = "logit", jitter = TRUE, sites = 10, rows = 2, rates = c(grass = .5, reef = .3, sand = .08), engines = c("glmmTMB", "lme4")),
  logit_few = usual(what = "logit link, few baits, one row each", link = "logit", baits = 6, sites = 15, rows = 1, between = TRUE, random = "site", engines = c("glmmTMB", "lme4")),
  check_logit = usual(what = "one check alone, logit", link = "logit", check = 2, lost = .03, random = c("site", "sh"), engines = c("glmmTMB", "lme4")),
  check_flat = usual(what = "one check alone, no random intercepts", check = 1, jitter = TRUE, random = character(), sd = c(0, 0, 0), engines = c("glm", "survreg")),
  flat = usual(what = "no random intercepts, habitats and covariate", covs = "x", lost = .03, jitter = TRUE, random = character(), sd = c(0, 0, 0), engines = c("glm", "glmmTMB")),
  betabin = usual(what = "beta-binomial on one check, logit", link = "logit", family = "betabinomial", check = 2, random = character(), lost = .03, engines = c("glmmTMB", "VGAM")),
  betabin_site = usual(what = "beta-binomial with sites, logit", link = "logit", family = "betabinomial", check = 2, random = "site", engines = c("glmmTMB", "TMB")),
  betabin_cloglog = usual(what = "beta-binomial on one check, log-log", family = "betabinomial", check = 1, random = character(), engines = c("glmmTMB", "VGAM")),
  big = usual(what = "200 deployments", sites = 25, rows = 4, jitter = TRUE, lost = .03, engines = c("glmmTMB", "TMB"))
)

draw <- function(name) {
  p <- sets[[name]]; set.seed(20260401 + match(name, names(sets)))
  rows <- checks <- NULL; k <- 0
  for (i in seq_len(p$sites)) {
    us <- rnorm(1, 0, p$sd[1]); hs <- names(p$rates)
    if (p$between) hs <- hs[(i - 1) %% length(hs) + 1]
    for (h in hs) { uh <- rnorm(1, 0, p$sd[2]); for (j in seq_len(p$rows)) {
      k <- k + 1; id <- sprintf("D%03d", k)
      f <- p$rates[[h]] * exp(us + uh + rnorm(1, 0, p$sd[3]))
      n <- if (length(p$baits) == 2) sample(p$baits[1]:p$baits[2], 1) else p$baits
      soaks <- if (is.list(p$soaks)) p$soaks[[h]] else p$soaks
      if (p$jitter) soaks <- round(soaks + c(runif(1, -.2, .4), runif(length(soaks) - 1, -2, 2)), 2)
      hazard <- function(t) { e <- c(p$cuts, Inf); s <- c(0, p$cuts); sum(pmax(0, pmin(t, e) - s) * p$later) }
      rows <- rbind(rows, data.frame(set = name, id, site = sprintf("s%02d", i), habitat = h, baits = n, control = 0L, protocol = "",
        x = round(15 + us + rnorm(1), 1), x2 = round(runif(1, 1, 6), 1), x3 = 0, moon = sample(c("full", "half", "new"), 1)))
      c0 <- 0; l0 <- 0; before <- 0
      for (c in seq_along(soaks)) {
        l0 <- l0 + if (c > 1) rbinom(1, n - c0 - l0, p$lost) else 0
        c0 <- c0 + rbinom(1, n - c0 - l0, 1 - exp(-f * (hazard(soaks[c]) - before))); before <- hazard(soaks[c])
        checks <- rbind(checks, data.frame(set = name, id, check = c, soak_h = soaks[c], consumed = c0, lost = l0, unread = 0L))
      } } } }
  d <- list(r = rows, c = checks)
  if (!is.null(p$edit)) d <- p$edit(d)
  d
}
