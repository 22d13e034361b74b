# What each engine makes of a frame; all give list(loglik=, est=, se=, sd=) with
# soakline's names of the terms. Used by agree.R.

# frame: from the rows and checks of a set to observations. An observation has
# parts (groups of baits with one stretch of soak each), a part has pieces (the
# stretch cut at the bands).
frame <- function(d, p) {
  obs <- list()
  for (i in seq_len(nrow(d$r))) {
    r <- d$r[i, ]; c <- d$c[d$c$id == r$id, ]; c <- c[order(c$check), ]; c <- c[!is.na(c$consumed), ]
    if (p$check > 0) {
      k <- c[c$check == p$check, ]
      obs[[length(obs) + 1]] <- list(row = i, check = 1, y = k$consumed, parts = list(list(n = r$baits - k$lost, from = 0, to = k$soak_h)), merged = FALSE)
      next
    }
    was <- list(check = 0, soak_h = 0, consumed = 0, unread = 0)
    for (j in seq_len(nrow(c))) {
      k <- c[j, ]; n <- r$baits - was$consumed - k$lost
      parts <- list(list(n = n - was$unread - k$unread, from = was$soak_h, to = k$soak_h))
      if (was$unread > 0) parts[[2]] <- list(n = was$unread, from = 0, to = k$soak_h)
      parts <- Filter(function(x) x$n > 0, parts)
      if (length(parts)) obs[[length(obs) + 1]] <- list(row = i, check = k$check, y = k$consumed - was$consumed, parts = parts, merged = k$check - was$check > 1)
      was <- as.list(k)
    }
  }
  if (p$bands == "checks" || p$link == "logit") obs <- Filter(function(o) !o$merged, obs)
  obs
}

# long: the frame of the general-purpose packages, one line an observation.
long <- function(d, p) {
  o <- frame(d, p)
  n <- vapply(o, function(o) o$parts[[1]]$n, 0); row <- vapply(o, `[[`, 0, "row")
  data.frame(d$r[row, ], sh = paste(d$r$site[row], d$r$habitat[row]), interval = factor(vapply(o, `[[`, 0, "check")), y = vapply(o, `[[`, 0, "y"), r = n,
    len = vapply(o, function(o) o$parts[[1]]$to - o$parts[[1]]$from, 0))
}

term <- function(n) { n <- sub("^habitat", "habitat=", n); n <- sub("^moon", "moon=", n); sub("^[(]Intercept[)]$", "baseline", n) }
group <- c(site = "site", sh = "site-habitat", id = "deployment")
fixed <- function(p, l) paste(c(if (nlevels(l$interval) > 1) "interval", "habitat", p$covs), collapse = " + ")
formula_of <- function(p, l, y = "cbind(y, r - y)", offset = p$link == "cloglog")
  as.formula(paste(y, "~", fixed(p, l), paste(sprintf("+ (1 | %s)", p$random), collapse = " "), if (offset) "+ offset(log(len))"))

engines <- list(
  glm = function(d, p) {
    l <- long(d, p); p$random <- character()
    m <- glm(as.formula(paste("cbind(y, r - y) ~", fixed(p, l), if (p$link == "cloglog") "+ offset(log(len))")), family = binomial(p$link), data = l, control = glm.control(epsilon = 1e-13, maxit = 200))
    s <- summary(m)$coefficients
    list(loglik = as.numeric(logLik(m)), est = setNames(s[, 1], term(rownames(s))), se = setNames(s[, 2], term(rownames(s))), sd = NULL)
  },
  glmmTMB = function(d, p) {
    l <- long(d, p)
    f <- if (length(p$random)) formula_of(p, l) else as.formula(paste("cbind(y, r - y) ~", fixed(p, l), if (p$link == "cloglog") "+ offset(log(len))"))
    fam <- if (p$family == "binomial") binomial(p$link) else glmmTMB::betabinomial(p$link)
    # columns that others make up are taken out beforehand: this version does not
    X <- model.matrix(lme4::nobars(f)[-2], l); q <- qr(X); drop <- colnames(X)[q$pivot[-seq_len(q$rank)]]
    if (length(drop)) f <- update(f, as.formula(paste(". ~ . -", paste(drop, collapse = " - "))))
    m <- glmmTMB(f, family = fam, data = l, control = glmmTMBControl(optCtrl = list(iter.max = 2000, eval.max = 4000)))
    s <- summary(m)$coefficients$cond; v <- VarCorr(m)$cond
    sd <- vapply(v, function(x) attr(x, "stddev")[[1]], 0)
    if (length(sd)) names(sd) <- group[names(v)]
    out <- list(loglik = as.numeric(logLik(m)), est = setNames(s[, 1], term(rownames(s))), se = setNames(s[, 2], term(rownames(s))), sd = sd)
    if (is.na(out$loglik)) out$loglik <- -as.numeric(m$fit$objective)
    out
  },
  lme4 = function(d, p) {
    l <- long(d, p)
    # with the log-log link it finds no start of its own: it is put where glmmTMB
    # ended (its terms stand innermost first)
    if (p$link == "cloglog") {
      g <- engines$glmmTMB(d, p); start <- list(theta = unname(pmax(g$sd[rev(group[p$random])], .1)), fixef = unname(g$est))
      m <- glmer(formula_of(p, l), family = binomial(p$link), data = l, start = start, control = glmerControl(optimizer = "bobyqa", nAGQ0initStep = FALSE, tolPwrss = 1e-8, optCtrl = list(maxfun = 1e5, rhoend = 1e-9)))
    } else m <- glmer(formula_of(p, l), family = binomial(p$link), data = l, control = glmerControl(optimizer = "bobyqa", optCtrl = list(maxfun = 1e5, rhoend = 1e-9)))
    v <- VarCorr(m); sd <- vapply(v, function(x) attr(x, "stddev")[[1]], 0); names(sd) <- group[names(v)]
    list(loglik = as.numeric(logLik(m)), est = setNames(fixef(m), term(names(fixef(m)))), se = NULL, sd = sd)
  },
  # The grouped-time model is a cumulative link model of each bait's interval
  # (McCullagh 1980): one line a row and outcome, weighted by baits. Only where
  # nothing was lost and every row has the same soaks.
  clmm = function(d, p) {
    w <- do.call(rbind, lapply(seq_len(nrow(d$r)), function(i) {
      c <- d$c[d$c$id == d$r$id[i], ]; c <- c[order(c$check), ]
      n <- c(diff(c(0, c$consumed)), d$r$baits[i] - max(c$consumed))
      data.frame(d$r[i, ], sh = paste(d$r$site[i], d$r$habitat[i]), outcome = seq_along(n), n = n, row.names = NULL)[n > 0, ]
    }))
    soaks <- sort(unique(d$c$soak_h)); K <- length(soaks)
    w$outcome <- factor(w$outcome, levels = seq_len(K + 1), ordered = TRUE)
    constant <- sum(vapply(split(w$n, w$id), function(n) lfactorial(sum(n)) - sum(lfactorial(n)), 0))
    X <- model.matrix(as.formula(paste("~", paste(c("habitat", p$covs), collapse = "+"))), w); q <- qr(X)
    keep <- sort(q$pivot[seq_len(q$rank)])[-1]; xs <- paste0("X.", colnames(X)[keep])
    for (j in seq_along(keep)) w[[xs[j]]] <- X[, keep[j]]
    f <- as.formula(paste("outcome ~", paste(sprintf("`%s`", xs), collapse = "+"), paste(sprintf("+ (1 | %s)", p$random), collapse = " ")))
    m <- ordinal::clmm(f, data = w, weights = n, link = "cloglog", control = ordinal::clmm.control(gradTol = 1e-5, maxIter = 300))
    th <- m$Theta[1, ]; H <- exp(th); rate <- c(H[1], diff(H)) / diff(c(0, soaks))
    b <- c(baseline = log(rate[[1]]), if (K > 1) setNames(log(rate[-1] / rate[1]), paste0("interval", 2:K)))
    be <- -m$beta; names(be) <- term(gsub("`", "", sub("^`?X[.]", "", names(be))))
    v <- VarCorr(m); sd <- vapply(v, function(x) attr(x, "stddev")[[1]], 0); names(sd) <- group[names(v)]
    se <- sqrt(diag(vcov(m)))[names(m$beta)]; names(se) <- names(be)
    list(loglik = as.numeric(m$logLik) + constant, est = c(b, be), se = se, sd = sd)
  },
  # one check, exponential times, every bait left- or right-censored at it
  survreg = function(d, p) {
    l <- long(d, p)
    w <- rbind(data.frame(l, from = NA, to = l$len, n = l$y), data.frame(l, from = l$len, to = NA, n = l$r - l$y)); w <- w[w$n > 0, ]
    m <- survival::survreg(as.formula(paste("survival::Surv(from, to, type = 'interval2') ~", paste(c("habitat", p$covs), collapse = "+"))), data = w, weights = n, dist = "exponential", control = survival::survreg.control(rel.tolerance = 1e-13))
    s <- summary(m)$table
    list(loglik = m$loglik[2] + sum(lchoose(l$r, l$y)), est = setNames(-s[, 1], term(rownames(s))), se = setNames(s[, 2], term(rownames(s))), sd = NULL)
  },
  VGAM = function(d, p) {
    l <- long(d, p)
    lmu <- if (p$link == "logit") "logitlink" else "clogloglink"
    m <- if (p$link == "logit") VGAM::vglm(cbind(y, r - y) ~ habitat, VGAM::betabinomial(lmu = "logitlink"), data = l, epsilon = 1e-12, maxit = 200)
      else VGAM::vglm(cbind(y, r - y) ~ habitat, VGAM::betabinomial(lmu = "clogloglink"), data = l, offset = cbind(log(l$len), 0), epsilon = 1e-12, maxit = 200)
    b <- VGAM::coef(m); names(b) <- term(sub(":1$", "", names(b)))
    list(loglik = as.numeric(VGAM::logLik.vlm(m)), est = b[!grepl(":2$", names(b))], se = NULL, sd = NULL)
  }
)

# arrays of the model for TMB and for the evaluation written out below
arrays <- function(d, p) {
  obs <- frame(d, p); cuts <- if (p$check > 0 || p$bands == "checks" || p$link == "logit") NULL else c(0, p$cuts)
  bands <- if (is.null(cuts)) max(vapply(obs, `[[`, 0, "check")) else length(cuts)
  hs <- sort(unique(d$r$habitat[d$r$control == 0])); back <- any(d$r$control == 1)
  cov <- NULL; for (v in p$covs) cov <- cbind(cov, if (is.character(d$r[[v]])) vapply(sort(unique(d$r[[v]]))[-1], function(s) as.numeric(d$r[[v]] == s), d$r$x) else setNames(data.frame(d$r[[v]]), v)[[1]])
  names_x <- c("baseline", if (bands > 1) paste0("interval", 2:bands), paste0("habitat=", hs[-1]), unlist(lapply(p$covs, function(v) if (is.character(d$r[[v]])) paste0(v, "=", sort(unique(d$r[[v]]))[-1]) else v)))
  if (back) names_x <- c(names_x, "control", if (bands > 1) paste0("control-interval", 2:bands))
  q <- length(names_x); X <- list(); ex <- pp <- bg <- numeric(); tr <- po <- numeric(); part <- 0
  add <- function(b, len, row, control) {
    x <- numeric(q); at <- if (control) bands + length(hs) - 1 + NCOL(cov) * !is.null(cov) else 0
    x[at + 1] <- 1; if (b > 1) x[at + b] <- 1
    if (!control) { h <- match(d$r$habitat[row], hs); if (h > 1) x[bands + h - 1] <- 1; if (!is.null(cov)) x[bands + length(hs) - 1 + seq_len(NCOL(cov))] <- as.matrix(cov)[row, ] }
    X[[length(X) + 1]] <<- x; ex <<- c(ex, len); pp <<- c(pp, part - 1); bg <<- c(bg, as.integer(control))
  }
  for (o in seq_along(obs)) for (g in obs[[o]]$parts) {
    part <- part + 1; tr <- c(tr, g$n); po <- c(po, o - 1); row <- obs[[o]]$row
    overlap <- if (is.null(cuts)) { v <- numeric(bands); v[if (p$check > 0) 1 else obs[[o]]$check] <- if (p$link == "logit") 1 else g$to - g$from; v } else pmax(0, pmin(g$to, c(cuts[-1], Inf)) - pmax(g$from, cuts))
    for (b in which(overlap > 0)) { if (d$r$control[row] == 0) add(b, overlap[b], row, FALSE); if (back) add(b, overlap[b], row, TRUE) }
  }
  row <- vapply(obs, `[[`, 0, "row"); keys <- list(site = d$r$site, sh = paste(d$r$site, d$r$habitat), id = d$r$id)
  G <- NULL; level <- integer()
  for (k in seq_along(p$random)) { f <- as.integer(factor(keys[[p$random[k]]][row])); G <- cbind(G, f - 1 + length(level)); level <- c(level, rep(k - 1, max(f))) }
  if (is.null(G)) { G <- matrix(0L, length(obs), 0); level <- integer() }
  X <- do.call(rbind, X); colnames(X) <- names_x
  qx <- qr(X); X <- X[, sort(qx$pivot[seq_len(qx$rank)]), drop = FALSE]
  list(y = vapply(obs, `[[`, 0, "y"), trials = tr, part_obs = po, piece_part = pp, exposure = ex, background = bg, X = X, group = G, level = level, beta_binomial_logit = as.integer(p$family == "betabinomial"))
}

engines$TMB <- function(d, p) {
  a <- arrays(d, p); k <- length(p$random)
  start <- list(beta = numeric(ncol(a$X)), log_sd = rep(log(.3), k), log_kappa = log(.1), u = numeric(length(a$level)))
  start$beta[1] <- -1; if ("control" %in% colnames(a$X)) start$beta[colnames(a$X) == "control"] <- -3
  # columns far from zero are centred for the search and taken back afterwards
  far <- which(abs(colMeans(a$X)) > 5); shift <- colMeans(a$X)[far]; X <- a$X
  for (j in seq_along(far)) a$X[, far[j]] <- a$X[, far[j]] - shift[j]
  obj <- TMB::MakeADFun(a, start, random = "u", map = if (p$family == "binomial") list(log_kappa = factor(NA)), DLL = "marginal", silent = TRUE)
  m <- NULL
  for (s in c(.3, 1, .05)) { # several starts of the SDs, the best is kept
    st <- obj$par; st[names(st) == "log_sd"] <- log(s)
    o <- tryCatch(nlminb(st, obj$fn, obj$gr, control = list(iter.max = 2000, eval.max = 4000, rel.tol = 1e-13)), error = function(e) NULL)
    if (!is.null(o) && is.finite(o$objective) && (is.null(m) || o$objective < m$objective)) m <- o
  }
  obj$fn(m$par)
  b <- m$par[names(m$par) == "beta"]; names(b) <- colnames(X)
  r <- try(TMB::sdreport(obj, m$par), silent = TRUE)
  se <- if (inherits(r, "try-error")) NULL else { s <- sqrt(diag(r$cov.fixed))[names(m$par) == "beta"]; names(s) <- colnames(X); if (length(far)) s <- s[-1]; s }
  if (length(far)) b[1] <- b[1] - sum(b[far] * shift)
  sd <- exp(m$par[names(m$par) == "log_sd"]); names(sd) <- group[p$random]
  list(loglik = -m$objective, est = b, se = se, sd = sd)
}

# Laplace's approximation written out with base R alone: joint density, Newton
# with second derivatives by differences, log-determinant of the dense Hessian.
# The same function judges where another engine ended (true second derivative).
laplace <- function(a, beta, sd, exact = FALSE) {
  eta <- drop(a$X %*% beta); n <- length(a$y); part <- a$part_obs + 1
  base <- a$exposure * exp(eta); fg <- ifelse(a$background == 1, 0, base); bgr <- ifelse(a$background == 1, base, 0)
  Hf <- as.vector(tapply(fg, factor(a$piece_part, levels = seq_along(a$trials) - 1), sum)); Hb <- as.vector(tapply(bgr, factor(a$piece_part, levels = seq_along(a$trials) - 1), sum))
  single <- tabulate(part, n) == 1; first <- match(seq_len(n), part)
  ll <- function(t) { # by observation, t its shift
    H <- Hf * exp(t[part]) + Hb; out <- numeric(n); i <- first[single]
    out[single] <- dbinom(a$y[single], a$trials[i], -expm1(-H[i]), log = TRUE)
    for (o in which(!single)) { j <- first[o] + 0:1; s <- 0:a$y[o]
      out[o] <- log(sum(dbinom(s, a$trials[j[1]], -expm1(-H[j[1]])) * dbinom(a$y[o] - s, a$trials[j[2]], -expm1(-H[j[2]])))) }
    out
  }
  if (!length(a$level)) return(sum(ll(numeric(n))))
  Z <- matrix(0, n, length(a$level)); for (k in seq_len(ncol(a$group))) Z[cbind(seq_len(n), a$group[, k] + 1)] <- sd[a$level[a$group[, k] + 1] + 1]
  u <- numeric(length(a$level)); h <- 1e-3
  F <- function(u) sum(ll(drop(Z %*% u))) - sum(u^2) / 2
  for (it in 1:60) {
    t <- drop(Z %*% u); l <- lapply(-2:2, function(k) ll(t + k * h))
    d1 <- (l[[1]] - 8 * l[[2]] + 8 * l[[4]] - l[[5]]) / (12 * h); d2 <- (-l[[1]] + 16 * l[[2]] - 30 * l[[3]] + 16 * l[[4]] - l[[5]]) / (12 * h^2)
    K <- diag(length(u)) + crossprod(Z, -d2 * Z); g <- crossprod(Z, d1) - u; step <- drop(solve(K, g)); s <- 1; f0 <- F(u)
    while (!isTRUE(F(u + s * step) >= f0 - 1e-10) && s > 1e-6) s <- s / 2
    u <- u + s * step; if (max(abs(step)) < 1e-9) break
  }
  F(u) - sum(log(diag(chol(K))))
}
engines$hand <- function(d, p) {
  a <- arrays(d, p); q <- ncol(a$X)
  start <- engines$TMB(d, p) # near the end, so that a slow search is enough
  th <- c(start$est, log(pmax(start$sd, .05))) + .05
  f <- function(th) { v <- tryCatch(-laplace(a, th[seq_len(q)], exp(th[-seq_len(q)])), error = function(e) Inf); if (is.finite(v)) v else 1e10 }
  m <- nlminb(th, f, control = list(rel.tol = 1e-12, iter.max = 500, eval.max = 1000))
  b <- setNames(m$par[seq_len(q)], colnames(a$X)); sd <- setNames(exp(m$par[-seq_len(q)]), group[p$random])
  list(loglik = -m$objective, est = b, se = NULL, sd = sd)
}
