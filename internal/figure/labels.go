package figure

import (
	"fmt"
	"math"
	"strconv"
)

// siteMM is the half-width of a site's mark.
const siteMM = 1.2

// sites draws marks and labels, and gives the list of names where marks are
// numbered.
func (v *view) sites(d *Drawing, f Frame, m Map) (listed []string) {
	at := make([]Point, len(m.Sites))
	names := make([]string, len(m.Sites))
	for i, s := range m.Sites {
		at[i] = v.place(s.At)
		names[i] = s.Label
		d.note(s.Label)
		v.taken = append(v.taken, Rect{at[i].X - siteMM, at[i].Y - siteMM, 2 * siteMM, 2 * siteMM})
	}
	base := len(v.taken)
	labels, missing := v.placeLabels(f, at, names)
	if len(missing) > 0 {
		v.taken = v.taken[:base]
		numbers := make([]string, len(names))
		for i, n := range names {
			if n != "" {
				numbers[i] = strconv.Itoa(i + 1)
				listed = append(listed, fmt.Sprintf("%d %s", i+1, n))
			}
		}
		labels, missing = v.placeLabels(f, at, numbers)
		for _, i := range missing {
			d.Left = append(d.Left, fmt.Sprintf("%d %s", i+1, names[i]))
		}
	}
	v.drawSites(d, m, at, labels)
	return listed
}

// label is a text placed beside its mark, with a leader where it stands apart.
type label struct {
	text   Text
	leader []Point
}

// drawSites draws leaders, then marks kind by kind, then texts.
func (v *view) drawSites(d *Drawing, m Map, at []Point, labels []label) {
	d.Begin(Group{ID: "sites"})
	var leaders [][]Point
	for _, l := range labels {
		leaders = append(leaders, l.leader)
	}
	d.Line(leaders, Stroke{Role: Mute, WidthMM: 0.25})
	kinds := 0
	for _, s := range m.Sites {
		kinds = max(kinds, s.Kind+1)
	}
	byKind := make([][]Point, min(kinds, shapes*seriesCount))
	for i, s := range m.Sites {
		k := s.Kind % len(byKind)
		byKind[k] = append(byKind[k], at[i])
	}
	for k, pts := range byKind {
		if len(pts) > 0 {
			d.mark(k, pts, siteMM, seriesRole(k))
		}
	}
	for _, l := range labels {
		d.Text(l.text)
	}
	d.End()
}

// placeLabels finds each text a place inside the frame where it touches no
// mark, no other text and no leader: beside the mark first, then farther off
// with a leader. missing are those that found none.
func (v *view) placeLabels(f Frame, at []Point, texts []string) (out []label, missing []int) {
	var leaders [][]Point
	for i, s := range texts {
		s, _ := Clean(s)
		if s == "" {
			continue
		}
		l, ok := v.findPlace(Text{S: s, SizeMM: f.Look.TextMM, Role: Ink, Halo: true}, at[i], leaders)
		if !ok {
			missing = append(missing, i)
			continue
		}
		v.taken = append(v.taken, l.text.Box().grow(0.3))
		if len(l.leader) > 0 {
			leaders = append(leaders, l.leader)
		}
		out = append(out, l)
	}
	return out, missing
}

func (v *view) findPlace(t Text, at Point, leaders [][]Point) (label, bool) {
	probe := t.Box()
	up, down := -probe.Y, probe.Y+probe.H // of the text's ink about its baseline
	for _, r := range [...]float64{siteMM + 0.7, 4, 7, 11, 16} {
		for k := range 8 {
			// East first: names read away from their mark.
			s, c := math.Sincos(float64([...]int{0, 4, 1, 7, 3, 5, 2, 6}[k]) * math.Pi / 4)
			end := Point{at.X + r*c, at.Y - r*s}
			q := t
			q.X = end.X
			switch {
			case c > 0.5:
				q.Anchor = Start
			case c < -0.5:
				q.Anchor = End
			default:
				q.Anchor = Middle
			}
			switch {
			case s > 0.9:
				q.Y = end.Y - down
			case s < -0.9:
				q.Y = end.Y + up
			default:
				q.Y = end.Y + (up-down)/2
			}
			l := label{text: q}
			if r > 3 {
				l.leader = []Point{{at.X + siteMM*c, at.Y - siteMM*s}, {at.X + (r-0.4)*c, at.Y - (r-0.4)*s}}
			}
			if v.free(l, at, leaders) {
				return l, true
			}
		}
	}
	return label{}, false
}

// free reports whether a label may stand where it is.
func (v *view) free(l label, at Point, leaders [][]Point) bool {
	box := l.text.Box().grow(0.3)
	if !box.within(v.frame.grow(-0.3)) {
		return false
	}
	for _, r := range v.taken {
		if box.overlaps(r) {
			return false
		}
		own := r.X <= at.X && at.X <= r.X+r.W && r.Y <= at.Y && at.Y <= r.Y+r.H
		if len(l.leader) > 0 && !own && r.crosses(l.leader[0], l.leader[1]) {
			return false
		}
	}
	for _, o := range leaders {
		if box.crosses(o[0], o[1]) {
			return false
		}
	}
	return true
}

// list sets names in as many columns as fit, read downwards.
func (d *Drawing) list(f Frame, names []string, y float64) float64 {
	wide := 0.0
	for _, n := range names {
		wide = max(wide, f.main(n).width())
	}
	wide = min(wide+f.Look.TextMM*1.2, d.W)
	columns := max(1, int(d.W/wide))
	per := (len(names) + columns - 1) / columns
	d.Begin(Group{ID: "names"})
	bottom := y
	for c := range columns {
		at := y
		for _, n := range names[min(c*per, len(names)):min((c+1)*per, len(names))] {
			at = d.put(f.main(n).wrap(wide), float64(c)*wide, at, Start)
		}
		bottom = max(bottom, at)
	}
	d.End()
	return bottom
}
