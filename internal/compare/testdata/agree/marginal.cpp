// Marginal likelihood of the grouped-time model for TMB (Kristensen et al. 2016,
// J. Stat. Softw. 70(5)): observations are sums over parts, parts sums over
// pieces with constant hazard. Written from docs/methods/mixed.md for agree.R.
#include <TMB.hpp>
template <class Type> Type objective_function<Type>::operator()() {
  DATA_VECTOR(y);            // events by observation
  DATA_VECTOR(trials);       // by part
  DATA_IVECTOR(part_obs);    // part -> observation
  DATA_IVECTOR(piece_part);  // piece -> part
  DATA_VECTOR(exposure);     // by piece
  DATA_IVECTOR(background);  // by piece
  DATA_MATRIX(X);            // by piece
  DATA_IMATRIX(group);       // observation x levels -> place in u, from 0
  DATA_IVECTOR(level);       // place in u -> level
  DATA_INTEGER(beta_binomial_logit);
  PARAMETER_VECTOR(beta);
  PARAMETER_VECTOR(log_sd);
  PARAMETER(log_kappa);
  PARAMETER_VECTOR(u);
  Type nll = 0;
  for (int i = 0; i < u.size(); i++) nll -= dnorm(u(i), Type(0), Type(1), true);
  vector<Type> eta = X * beta;
  vector<Type> shift(y.size());
  for (int o = 0; o < y.size(); o++) {
    shift(o) = 0;
    for (int k = 0; k < group.cols(); k++) shift(o) += exp(log_sd(level(group(o, k)))) * u(group(o, k));
  }
  if (beta_binomial_logit == 1) {
    Type kappa = exp(log_kappa);
    for (int o = 0; o < y.size(); o++) {
      Type mu = Type(1) / (Type(1) + exp(-eta(o) - shift(o))), a = mu / kappa, b = (Type(1) - mu) / kappa, n = trials(o);
      nll -= lgamma(n + 1) - lgamma(y(o) + 1) - lgamma(n - y(o) + 1) + lgamma(y(o) + a) + lgamma(n - y(o) + b) - lgamma(n + a + b) + lgamma(a + b) - lgamma(a) - lgamma(b);
    }
    return nll;
  }
  vector<Type> H(trials.size());
  H.setZero();
  for (int s = 0; s < exposure.size(); s++) {
    int p = piece_part(s);
    H(p) += exposure(s) * exp(eta(s) + (background(s) ? Type(0) : shift(part_obs(p))));
  }
  int p = 0;
  for (int o = 0; o < y.size(); o++) {
    int last = p;
    while (last + 1 < trials.size() && part_obs(last + 1) == o) last++;
    if (last == p) { // one part
      if (y(o) > 0) nll -= y(o) * log(Type(1) - exp(-H(p)));
      nll -= lgamma(trials(p) + 1) - lgamma(y(o) + 1) - lgamma(trials(p) - y(o) + 1) - (trials(p) - y(o)) * H(p);
    } else { // two parts: every split of the events
      Type total = 0;
      int n1 = (int)asDouble(trials(p)), n2 = (int)asDouble(trials(p + 1)), events = (int)asDouble(y(o));
      for (int a = 0; a <= events; a++) {
        int b = events - a;
        if (a > n1 || b > n2) continue;
        Type l = lgamma(Type(n1 + 1)) - lgamma(Type(a + 1)) - lgamma(Type(n1 - a + 1)) + lgamma(Type(n2 + 1)) - lgamma(Type(b + 1)) - lgamma(Type(n2 - b + 1));
        l += -(n1 - a) * H(p) - (n2 - b) * H(p + 1);
        if (a > 0) l += a * log(Type(1) - exp(-H(p)));
        if (b > 0) l += b * log(Type(1) - exp(-H(p + 1)));
        total += exp(l);
      }
      nll -= log(total);
    }
    p = last + 1;
  }
  return nll;
}
