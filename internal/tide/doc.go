// Package tide answers: how high is the water at a place over time, and when
// does it turn? Three ways lead there: harmonic constituents (Curve), a logger's
// series that it analyses into constituents (Analyse), and a local table of high
// and low waters (Table).
//
// Heights are metres above the datum that the numbers were given for, times are
// instants (UTC inside), phase lags degrees, positive late, against Greenwich
// unless a zone clock is named. Arguments of constituents are counted so that
// V(Sa) = h and V(S1) = T, as in Schureman, whichever node factors are used.
//
// Method: node factors and arguments after Schureman (1958), Manual of Harmonic
// Analysis and Prediction of Tides, U.S. Coast and Geodetic Survey Special
// Publication 98; on request satellites after Foreman (1977), Manual for Tidal
// Heights Analysis and Prediction, Pacific Marine Science Report 77-10. Both are
// taken at each time when predicting, and at the middle of the record (of each
// year of a longer one) when analysing, as is usual. docs/methods/tide.md has the
// formulas.
//
// It knows no weather and no surge: Analysis.Margin proposes, from a logger's
// residuals, how much lower than predicted the water may stand. It reads no
// files and writes no sentences: what a person must know is a slug with values.
package tide

// Message is something a person must know beside a result: a slug of the
// catalogue of sentences, and its values.
type Message struct {
	Slug string
	With map[string]any
}

// Refusal says why nothing can be computed: a slug and its values.
type Refusal struct {
	Slug string
	With map[string]any
}

func (r *Refusal) Error() string { return r.Slug }

func say(slug string, pairs ...any) Message { return Message{slug, with(pairs)} }

func refuse(slug string, pairs ...any) error { return &Refusal{slug, with(pairs)} }

func with(pairs []any) map[string]any {
	m := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		m[pairs[i].(string)] = pairs[i+1]
	}
	return m
}
