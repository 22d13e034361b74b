package intake

import (
	"strconv"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"soakline/internal/pattern"
	"soakline/internal/sheet"
)

// plain brings a heading or a word to the form in which they are compared:
// lower case without accents, words apart by one blank, a bracketed unit taken
// off, digits apart from letters, capitals inside a word as a new word.
func plain(s string) string {
	text, _ := splitUnit(s)
	var b strings.Builder
	last := ' '
	for _, r := range norm.NFD.String(text) {
		switch {
		case unicode.Is(unicode.Mn, r):
			continue
		case r == 'º' || r == 'ª' || r == '°':
			r = ' '
		case r == '#':
			if last != ' ' {
				b.WriteByte(' ')
			}
			b.WriteString("number ")
			last = ' '
			continue
		case !unicode.IsLetter(r) && !unicode.IsDigit(r):
			r = ' '
		}
		split := unicode.IsDigit(r) != unicode.IsDigit(last) && last != ' ' && r != ' ' ||
			unicode.IsUpper(r) && unicode.IsLower(last)
		if split {
			b.WriteByte(' ')
		}
		if r != ' ' || last != ' ' {
			b.WriteRune(unicode.ToLower(r))
		}
		last = r
	}
	return strings.TrimSpace(b.String())
}

var unitPattern = pattern.New(`^(.*?)\s*[(\[]([^()\[\]]*)[)\]]\s*$`)

// splitUnit takes a bracketed end off a heading: "Depth (m)" gives "Depth", "m".
func splitUnit(s string) (text, unit string) {
	if m := unitPattern.FindStringSubmatch(s); m != nil && m[1] != "" {
		return m[1], strings.TrimSpace(m[2])
	}
	return s, ""
}

// meaning is what a heading says: a target and the check it belongs to.
type meaning struct {
	target string  // see targets
	check  int     // 1.. when the heading numbers the check; 0 when it does not
	soakH  float64 // when it names the check by its hours
	weak   bool    // the word has another usual meaning
	loose  bool    // the check is only a figure: a number or hours
}

// Targets of a column that are not columns of the datasheet by themselves.
const (
	asDate     = ":date" // behind a column of times: only its date
	asTime     = ":time" // only its time of day
	asLeft     = ":left" // behind a count: baits still there
	asAfter    = ":after"
	toPosition = "position" // latitude and longitude in one cell
	toSkip     = "skip"
	toCovar    = "covariate:" // a further column, kept under the name behind
)

var dictionary = sync.OnceValue(func() map[string]meaning {
	d := map[string]meaning{}
	for _, t := range []sheet.Table{sheet.Sightings, sheet.Stakes, sheet.Checks, sheet.Wide} {
		for _, c := range sheet.Columns(t) {
			if c.PerCheck() {
				continue
			}
			d[plain(c.Name)] = meaning{target: c.Name}
			for _, term := range c.Terms {
				d[plain(term)] = meaning{target: c.Name}
			}
		}
	}
	for target, list := range synonyms {
		weak := strings.HasSuffix(target, "?")
		for _, w := range strings.Split(list, ",") {
			if w = plain(w); w != "" {
				if _, ok := d[w]; !ok {
					d[w] = meaning{target: strings.TrimSuffix(target, "?"), weak: weak}
				}
			}
		}
	}
	return d
})

var perCheck = sync.OnceValue(func() map[string]meaning {
	d := map[string]meaning{}
	for target, list := range checkWords {
		weak := strings.HasSuffix(target, "?")
		for _, w := range strings.Split(list, ",") {
			if w = significant(plain(w)); w != "" {
				if _, ok := d[w]; !ok || !weak {
					d[w] = meaning{target: strings.TrimSuffix(target, "?"), weak: weak}
				}
			}
		}
	}
	return d
})

// read gives the meaning of one heading; ok is false when no word is known.
func readHeading(s string) (m meaning, ok bool) {
	name := strings.ToLower(strings.TrimSpace(s))
	if c, k, found := sheet.Find(sheet.Wide, name); found {
		return meaning{target: c.Name, check: k}, true
	}
	p := plain(s)
	if p == "" {
		return meaning{}, false
	}
	if m, ok := dictionary()[p]; ok {
		return m, true
	}
	rest, check, soakH, named := checkOf(p)
	loose := named && !checkNumbered.MatchString(p) && !numberedCheck.MatchString(p) && !ordinalCheck.MatchString(p) && !hoursCheck.MatchString(p)
	if named {
		rest = significant(rest)
		if rest == "" {
			// The heading names a check only: its counts or its time.
			return meaning{target: "", check: check, soakH: soakH, weak: true, loose: loose}, true
		}
		if m, ok := perCheck()[rest]; ok {
			m.check, m.soakH, m.loose = check, soakH, loose
			return m, true
		}
		return meaning{}, false
	}
	if m, ok := perCheck()[significant(p)]; ok {
		return m, true
	}
	if m, ok := dictionary()[significant(p)]; ok {
		return m, true
	}
	if m, ok := dictionary()[articles.ReplaceAllString(p, "")]; ok {
		return m, true
	}
	return meaning{}, false
}

var articles = pattern.New(`\b(?:of|the|de|del|la|las|el|los) `)

// noise are words that carry no meaning in a heading.
var noise = map[string]bool{"of": true, "the": true, "by": true, "at": true, "in": true, "on": true, "a": true, "an": true, "to": true, "for": true,
	"de": true, "del": true, "la": true, "las": true, "el": true, "los": true, "en": true, "al": true, "por": true, "y": true, "and": true,
	"n": true, "no": true, "num": true, "nr": true, "number": true, "numero": true, "count": true, "conteo": true, "total": true, "after": true, "tras": true,
	"despues": true, "baits": true, "bait": true, "cebos": true, "cebo": true, "carnadas": true, "carnada": true, "when": true, "is": true, "are": true, "were": true, "que": true, "se": true, "a las": true}

// significant drops the words that carry no meaning, unless nothing is left.
func significant(p string) string {
	var kept []string
	for _, w := range strings.Fields(p) {
		if !noise[w] {
			kept = append(kept, w)
		}
	}
	return strings.Join(kept, " ")
}

const checkNoun = `(?:check|visit|reading|retrieval check|revision|visita|lectura|chequeo|revisita|round|ronda)`

var (
	checkNumbered = pattern.New(`\b` + checkNoun + `s? (?:number |no |n )?([1-9]\d?)\b`)
	numberedCheck = pattern.New(`\b([1-9]) (?:(?:st|nd|rd|th|a|ra|da|era) )?` + checkNoun + `\b`)
	ordinalCheck  = pattern.New(`\b(first|second|third|primera|segunda|tercera|primer|tercer|segundo) ` + checkNoun + `\b`)
	hoursCheck    = pattern.New(`\b(\d{1,3}) (?:h|hr|hrs|hour|hours|hora|horas)\b(?: ` + checkNoun + `\b)?`)
	letterCheck   = pattern.New(`\b[tcv] ([1-9]\d?)\b`)
	trailingCheck = pattern.New(` ([1-9]\d?)$`)
)

var ordinals = map[string]int{"first": 1, "second": 2, "third": 3, "primera": 1, "segunda": 2, "tercera": 3, "primer": 1, "segundo": 2, "tercer": 3}

// checkOf finds which check a plain heading speaks of and takes it out.
func checkOf(p string) (rest string, check int, soakH float64, ok bool) {
	cut := func(m []int) string { return strings.TrimSpace(p[:m[0]] + " " + p[m[1]:]) }
	for _, re := range []pattern.Pattern{checkNumbered, numberedCheck} {
		if m := re.FindStringSubmatchIndex(p); m != nil {
			n, _ := strconv.Atoi(p[m[2]:m[3]])
			return cut(m), n, 0, true
		}
	}
	if m := ordinalCheck.FindStringSubmatchIndex(p); m != nil {
		return cut(m), ordinals[p[m[2]:m[3]]], 0, true
	}
	if m := hoursCheck.FindStringSubmatchIndex(p); m != nil {
		n, _ := strconv.Atoi(p[m[2]:m[3]])
		return cut(m), 0, float64(n), true
	}
	if m := letterCheck.FindStringSubmatchIndex(p); m != nil {
		n, _ := strconv.Atoi(p[m[2]:m[3]])
		if n >= 10 {
			return cut(m), 0, float64(n), true
		}
		return cut(m), n, 0, true
	}
	if m := trailingCheck.FindStringSubmatchIndex(p); m != nil {
		n, _ := strconv.Atoi(p[m[2]:m[3]])
		if n >= 10 {
			return cut(m), 0, float64(n), true
		}
		return cut(m), n, 0, true
	}
	return p, 0, 0, false
}
