package intake

import (
	"slices"
	"sort"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"soakline/internal/assay"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

// blankWords stand for an empty cell in any column.
var blankWords = map[string]bool{"na": true, "n/a": true, "n.a.": true, "n.a": true, "#n/a": true, "-": true, "--": true, "–": true, "—": true, "nan": true, "null": true, "nd": true,
	"n.d.": true, "n/d": true, "s/d": true, "sd": true, "s.d.": true, "sin dato": true, "sin datos": true, "no data": true, ".": true, "?": true}

func isBlank(s string) bool { return len(s) <= 10 && blankWords[strings.ToLower(s)] }

// wordsFor are other words for the words of a column, compared by plain.
var wordsFor = map[string]map[string]string{
	"control": {"no": "none", "ninguno": "none", "ninguna": "none", "cage": "shielded", "caged": "shielded", "jaula": "shielded", "full cage": "shielded", "partial cage": "partly_shielded", "partial": "partly_shielded",
		"parcial": "partly_shielded", "jaula parcial": "partly_shielded", "open": "none", "abierto": "none", "manipulacion": "handling", "partly shielded": "partly_shielded"},
	"bait_form": {"disk": "disc", "disco": "disc", "round": "disc", "redondo": "disc", "circle": "disc", "cuadrado": "square"},
	"why_no_check": {"clima": "weather", "mal tiempo": "weather", "tiempo": "weather", "storm": "weather", "tormenta": "weather", "acceso": "access", "marea": "tide", "enfermo": "ill", "enferma": "ill", "sick": "ill", "equipo": "equipment",
		"olvido": "forgot", "olvidado": "forgot", "forgotten": "forgot", "otro": "other"},
	"method": {"seen by eye": "seen", "visto": "seen", "camera": "video", "camara": "video", "snorkel": "snorkel count", "conteo con snorkel": "snorkel count", "trampa": "trap", "otro": "other"},
	"how":    {"bait": "bait gone", "cebo": "bait gone", "tether": "tether gone", "line": "tether gone", "hilo": "tether gone", "stake": "stake gone", "estaca": "stake gone", "b": "bait gone", "t": "tether gone", "s": "stake gone"},
	"fate": {"p": "present", "presente": "present", "there": "present", "intact": "present", "c": "consumed", "eaten": "consumed", "gone": "consumed", "comido": "consumed", "consumido": "consumed", "comida": "consumed",
		"l": "lost", "perdido": "lost", "perdida": "lost", "u": "unread", "not read": "unread", "no leido": "unread", "sin leer": "unread"},
}

// unclearFates are marks that people use for a fate and that are not its
// English initial: they are asked about, with what they usually stand for.
var unclearFates = map[string]string{"e": "consumed", "g": "consumed", "x": "consumed", "0": "present", "1": "consumed", "m": "lost", "missing": "lost", "i": "present", "a": "present", "y": "present", "n": "consumed", "ok": "present", "d": "lost"}

var flagWords = map[string]string{"si": "yes", "s": "yes", "x": "yes", "verdadero": "yes", "falso": "no", "ja": "yes", "t": "yes", "f": "no"}

// habitatWords name the same habitat in several words; a match is proposed,
// never taken by itself.
var habitatWords = [][]string{
	{"seagrass", "eelgrass", "sea grass", "grass", "pradera", "pastos marinos", "pasto marino", "hierba marina", "praderas", "sg"},
	{"sand", "bare sand", "sandy", "arena", "arenal", "fondo arenoso", "unvegetated", "sa"},
	{"reef", "rocky reef", "rock", "rocky", "roca", "rocas", "arrecife", "arrecife rocoso", "rf"},
	{"mud", "mudflat", "fango", "lodo", "barro"},
	{"kelp", "kelp forest", "bosque de algas", "macroalgae", "algas", "macroalgas", "alga"},
	{"mangrove", "mangle", "manglar"}, {"coral", "coral reef", "arrecife de coral"}, {"oyster", "oyster reef", "ostras", "banco de ostras"},
	{"saltmarsh", "salt marsh", "marsh", "marisma"},
}

// spelled is one spelling in a column and how often it stands there.
type spelled struct {
	text  string
	n     int
	where assay.Place
}

// spellings settles what each spelling of a site or habitat means.
func (p *plan) spellings() {
	for _, column := range []string{"site", "habitat"} {
		found := p.collect(column)
		if len(found) == 0 {
			continue
		}
		list := p.a.c.entries(column)
		meant := map[string]string{}
		if len(list) > 0 {
			var fresh []spelled // names that are new: they may be slips of one another
			for _, sp := range found {
				meant[sp.text] = p.inList(column, sp, list)
				if meant[sp.text] == sp.text && !slices.ContainsFunc(list, func(e Entry) bool { return e.Name == sp.text }) {
					fresh = append(fresh, sp)
				}
			}
			p.amongThemselves(column, fresh, meant)
		} else {
			p.amongThemselves(column, found, meant)
		}
		for _, s := range p.shapes {
			if s.m.Values == nil {
				s.m.Values = map[string]map[string]string{}
			}
			if s.m.Values[column] == nil {
				s.m.Values[column] = map[string]string{}
			}
			for w, v := range meant {
				if _, kept := s.m.Values[column][w]; !kept && w != v {
					s.m.Values[column][w] = v
				}
			}
		}
	}
}

func (c *Context) entries(column string) []Entry {
	if column == "habitat" {
		return c.Habitats
	}
	list := make([]Entry, len(c.Sites))
	for i, s := range c.Sites {
		list[i] = Entry{s.Name, s.Synonyms}
	}
	return list
}

// collect lists the spellings of a column over all tables, the most frequent
// first, those a kept map knows left out.
func (p *plan) collect(column string) []spelled {
	at := map[string]int{}
	var out []spelled
	note := func(text string, where func() assay.Place) {
		if text == "" || isBlank(text) {
			return
		}
		k, ok := at[text]
		if !ok {
			k = len(out)
			at[text] = k
			out = append(out, spelled{text: text, where: where()})
		}
		out[k].n++
	}
	for _, s := range p.shapes {
		known := s.m.Values[column]
		c := s.to(column)
		for _, t := range s.tables {
			if c < 0 {
				if m, ok := metaValue(t, column); ok && s.m.Table == sheet.Wide {
					note(m.Value, func() assay.Place { return placeOfPair(t, m) })
				} else if column == "site" && s.m.SheetName == "site" {
					note(t.Sheet, func() assay.Place { return t.Place(-1, -1) })
				}
				continue
			}
			last, lastKnown := "", false
			for i := range t.Len() {
				text, _ := t.Cell(i, c)
				if text != last {
					_, lastKnown = known[text]
					last = text
				}
				if !lastKnown {
					note(text, func() assay.Place { return t.Place(i, c) })
				}
			}
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].n > out[j].n })
	return out
}

// nameKey is the form in which names are the same: without regard to capitals,
// accents, and what stands between words. Other signs count: "reef (north)" is
// not "reef (south)".
func nameKey(s string) string {
	if key, ok := plainKey(s); ok {
		return key
	}
	var b strings.Builder
	for _, r := range norm.NFD.String(strings.ToLower(s)) {
		switch {
		case unicode.Is(unicode.Mn, r):
			continue
		case unicode.IsSpace(r) || r == '_' || r == '-':
			r = ' '
		}
		b.WriteRune(r)
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// plainKey is nameKey of a name in ASCII, which most are.
func plainKey(s string) (string, bool) {
	b := make([]byte, 0, len(s))
	for i := range len(s) {
		c := s[i]
		switch {
		case c >= utf8.RuneSelf:
			return "", false
		case c == ' ' || c >= '\t' && c <= '\r' || c == '_' || c == '-':
			if n := len(b); n == 0 || b[n-1] == ' ' {
				continue
			}
			c = ' '
		case c >= 'A' && c <= 'Z':
			c += 'a' - 'A'
		}
		b = append(b, c)
	}
	return strings.TrimRight(string(b), " "), true
}

// inList finds the entry of the list that a spelling means, or asks.
func (p *plan) inList(column string, sp spelled, list []Entry) string {
	same := nameKey(sp.text)
	for _, e := range list {
		if e.Name == sp.text {
			return e.Name
		}
	}
	for _, e := range list {
		for _, w := range append([]string{e.Name}, e.Synonyms...) {
			if nameKey(w) == same {
				p.a.reason(sp.where, said("intake.why-spelling", "written", sp.text, "entry", e.Name))
				return e.Name
			}
		}
	}
	q := Question{Key: "value:" + column + ":" + sp.text, Said: said("intake.ask-value", "written", sp.text, "n", sp.n, "column", words.Ref{Slug: "intake.list-" + column}),
		Where: sp.where, Proposal: "new", Why: said("intake.because-not-listed")}
	near := 3
	for _, e := range list {
		q.Options = append(q.Options, Option{Value: e.Name})
		if d := distance(same, nameKey(e.Name)); d < near && likelySlip(same, nameKey(e.Name), d) {
			near, q.Proposal, q.Why = d, e.Name, said("intake.because-alike", "entry", e.Name)
		}
	}
	if q.Proposal == "new" {
		p.proposeEntry(&q, column, plain(sp.text), list)
	}
	if column == "site" && q.Proposal == "new" {
		// A further place is nothing unusual, and nothing in the list is like it.
		p.a.reason(sp.where, said("intake.why-new-entry", "written", sp.text))
		if v := p.a.c.Answers[q.Key]; v == "" || v == "new" {
			return sp.text
		}
	}
	q.Options = append(q.Options, options("new")...)
	v, _ := p.a.ask(q)
	if v == "new" || v == "" {
		return sp.text
	}
	return v
}

// proposeEntry proposes by meaning or by abbreviation, when only one entry fits.
func (p *plan) proposeEntry(q *Question, column, same string, list []Entry) {
	var fits []string
	if column == "habitat" {
		for _, e := range list {
			for _, group := range habitatWords {
				if inGroup(group, same) && inGroup(group, plain(e.Name)) {
					fits = append(fits, e.Name)
					break
				}
			}
		}
		if len(fits) == 1 {
			q.Proposal, q.Why = fits[0], said("intake.because-same-word", "entry", fits[0])
			return
		}
	}
	if fits = nil; len(same) >= 2 && len(same) <= 5 {
		for _, e := range list {
			if abbreviates(same, plain(e.Name)) {
				fits = append(fits, e.Name)
			}
		}
		if len(fits) == 1 {
			q.Proposal, q.Why = fits[0], said("intake.because-short", "entry", fits[0])
		}
	}
}

func inGroup(group []string, w string) bool {
	for _, g := range group {
		if g == w {
			return true
		}
	}
	return false
}

// abbreviates says whether the letters of short stand in long in their order,
// from its first.
func abbreviates(short, long string) bool {
	long = strings.ReplaceAll(long, " ", "")
	if short == "" || long == "" || short[0] != long[0] || len(short) >= len(long) {
		return false
	}
	i := 0
	for j := 0; j < len(long) && i < len(short); j++ {
		if long[j] == short[i] {
			i++
		}
	}
	return i == len(short)
}

// amongThemselves settles spellings without a list: those that differ only in
// capitals, accents or blanks are one; a rare one like a frequent one is asked.
func (p *plan) amongThemselves(column string, found []spelled, meant map[string]string) {
	lead := map[string]spelled{}
	var order []spelled
	var keys []string // of order
	for _, sp := range found {
		key := nameKey(sp.text)
		first, ok := lead[key]
		if !ok {
			lead[key] = sp
			order, keys = append(order, sp), append(keys, key)
			meant[sp.text] = sp.text
			continue
		}
		meant[sp.text] = first.text
		p.a.reason(sp.where, said("intake.why-spelling", "written", sp.text, "entry", first.text))
	}
	if len(order) > 500 {
		return // not a list of names: nothing to compare
	}
	for i := len(order) - 1; i > 0; i-- {
		sp := order[i]
		if sp.n > 2 {
			continue // no slip
		}
		for k, big := range order[:i] {
			if a, b := keys[i], keys[k]; big.n < 5*sp.n || !likelySlip(a, b, distance(a, b)) {
				continue
			}
			q := Question{Key: "value:" + column + ":" + sp.text, Said: said("intake.ask-value", "written", sp.text, "n", sp.n, "column", words.Ref{Slug: "intake.list-" + column}),
				Where: sp.where, Options: append([]Option{{Value: big.text}}, options("new")...), Proposal: big.text, Why: said("intake.because-alike", "entry", big.text)}
			if v, _ := p.a.ask(q); v != "new" {
				for w, to := range meant {
					if to == sp.text {
						meant[w] = v
					}
				}
			}
			break
		}
	}
}

// likelySlip says whether two names are so alike that one may be a slip of the
// other: not when they differ in a digit, as site 1 and site 2 do.
func likelySlip(a, b string, d int) bool {
	n := min(len(a), len(b))
	if digitsOf(a) != digitsOf(b) || n == 0 || a[0] != b[0] {
		return false // north and south, east and west
	}
	if wa, wb := strings.Fields(a), strings.Fields(b); len(wa) == len(wb) {
		for i := range wa {
			if wa[i] != wb[i] && min(len(wa[i]), len(wb[i])) <= 2 {
				return false // site A and site B
			}
		}
	}
	return d == 0 || d == 1 && n >= 4 || d == 2 && n >= 8
}

func digitsOf(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, s)
}

// distance is the number of letters to put in, take out or change (Levenshtein
// 1966) between two names; 9 for names that differ by more than 3 in length.
func distance(a, b string) int {
	if d := len(a) - len(b); d > 3 || d < -3 || len(a) > 60 {
		return 9
	}
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diag := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := diag
			if a[i-1] != b[j-1] {
				cost++
			}
			diag = row[j]
			row[j] = min(cost, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}
