package mixed

import "fmt"

// Seasons draws whole sets of counts from a fit, with random intercepts drawn
// anew each time: what the data would look like, were the model true. One
// goroutine at a time.
type Seasons struct{ s *simulation }

// Seasons prepares to draw from the fit. simulate may be nil: each observation
// is then drawn by itself with its observed trials.
//
// It returns an error if the fit is not usable.
func (r *Result) Seasons(seed uint64, simulate Simulator) (*Seasons, error) {
	if !r.Ending.Usable() {
		return nil, fmt.Errorf("seasons are drawn from a fit with estimates; this one ended %q", r.Ending)
	}
	return &Seasons{newSimulation(r, BootstrapOptions{Seed: purposeSeed(seed, purposeSeasons), Simulate: simulate})}, nil
}

// Draw gives the events and trials of replicate rep, one an observation in the
// order of Data. They hold until the next call. The same seed and rep give the
// same counts, whatever was drawn before.
func (s *Seasons) Draw(rep uint64) (events, trials []int) {
	s.s.draw(rep)
	return s.s.events, s.s.trials
}

// purposeSeed gives a purpose streams of its own where a part draws by seed.
func purposeSeed(seed, purpose uint64) uint64 {
	return splitMix64(seed ^ splitMix64(purpose<<32))
}
