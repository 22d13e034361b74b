package mixed

// AtLimit marks the observations, in the order of Data, that have likelihood 1
// where a separated term has run to its limit: the other terms are fitted
// without them. Nil where no term is separated.
func (r *Result) AtLimit() []bool {
	if r.fit == nil || r.ran == nil {
		return nil
	}
	out := make([]bool, r.data.Len())
	f := r.fit.m.frame
	for i, obs := range r.whole.order {
		out[obs] = r.whole.r[i] > 0 && f.r[i] == 0
	}
	return out
}
