package leaf

import (
	"strings"

	"soakline/internal/figure"
)

// Leading is the step from line to line, in ems.
const Leading = 1.25

// Style is how a text is set.
type Style struct {
	SizeMM float64
	Bold   bool
	Role   figure.Role
}

// Sized is the style in another size.
func (s Style) Sized(mm float64) Style { s.SizeMM = mm; return s }

// Width is the width of a text on one line, mm.
func (s Style) Width(t string) float64 {
	t, _ = figure.Clean(t)
	return figure.Text{S: t, SizeMM: s.SizeMM, Bold: s.Bold}.Box().W
}

// Fit makes a text no wider than w: smaller down to seven tenths, then cut with
// an ellipsis. What may never be cut does not pass here.
func (s Style) Fit(t string, w float64) (Style, string) {
	t, _ = figure.Clean(t)
	if have := s.Width(t); have > w && have > 0 {
		s.SizeMM = max(s.SizeMM*w/have*0.999, s.SizeMM*0.7)
	}
	if s.Width(t) <= w {
		return s, t
	}
	r := []rune(t)
	for len(r) > 1 && s.Width(string(r)+"…") > w {
		r = r[:len(r)-1]
	}
	return s, strings.TrimRight(string(r), " ") + "…"
}

// Wrap breaks a text at spaces into lines no wider than w; a word wider than a
// line is cut between letters.
func (s Style) Wrap(t string, w float64) []string {
	t, _ = figure.Clean(t)
	var out []string
	line := ""
	for _, word := range strings.Fields(t) {
		if try := strings.TrimSpace(line + " " + word); s.Width(try) <= w {
			line = try
			continue
		}
		if line != "" {
			out = append(out, line)
		}
		r := []rune(word)
		for s.Width(string(r)) > w && len(r) > 1 {
			n := len(r) - 1
			for n > 1 && s.Width(string(r[:n])) > w {
				n--
			}
			out, r = append(out, string(r[:n])), r[n:]
		}
		line = string(r)
	}
	if line != "" {
		out = append(out, line)
	}
	return out
}

// Tall is the height a paragraph takes, mm.
func (s Style) Tall(t string, w float64) float64 {
	return float64(len(s.Wrap(t, w))) * s.SizeMM * Leading
}
