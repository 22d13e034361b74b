package task

import (
	"context"
	"sort"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/gear"
	"soakline/internal/logbook"
	"soakline/internal/paper"
)

// CardBaits is how many baits a practice card has.
const CardBaits = 12

// CardRead is one practice card as one reader answered it.
type CardRead struct {
	Reader   string
	Card     uint64 // its number
	Protocol string
	Answers  []bool // consumed
	Key      []bool // what is right
	gear.Agreement
}

// KeepCardRead keeps a reader's answers: one figure for each bait, 1 present, 2
// consumed. The same reader's answers to the same card replace earlier ones,
// which stay as revisions.
func KeepCardRead(ctx context.Context, book *logbook.Book, reader string, card uint64, answers string, by By) (c CardRead, err error) {
	reader = strings.TrimSpace(reader)
	answers = strings.Join(strings.Fields(strings.NewReplacer(",", " ", ";", " ").Replace(answers)), "")
	switch {
	case reader == "":
		return c, refuse("reader-nameless")
	case len(answers) != CardBaits || strings.Trim(answers, "12") != "":
		return c, refuse("card-answers", "given", answers, "n", CardBaits)
	}
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		s, err := SettingsOf(tx)
		if err != nil {
			return err
		}
		code := strconv.FormatUint(card, 10) + "/" + reader
		fields := map[string]string{"reader": reader, "card": strconv.FormatUint(card, 10), "protocol": s.Protocol, "answers": answers}
		if err := putCode(tx, kindPractice, code, fields, by.stamp()); err != nil {
			return err
		}
		all, err := CardsRead(tx)
		for _, x := range all {
			if x.Reader == reader && x.Card == card {
				c = x
			}
		}
		return err
	})
	return c, err
}

// CardsRead lists the answers that a logbook keeps, by reader and card.
func CardsRead(tx *logbook.Tx) ([]CardRead, error) {
	protocols, _, err := Protocols(tx)
	if err != nil {
		return nil, err
	}
	var list []CardRead
	err = live(tx, kindPractice, func(r logbook.Record) error {
		f := r.Fields
		card, err := strconv.ParseUint(f["card"], 10, 64)
		p, known := protocols[f["protocol"]]
		if err != nil || !known || len(f["answers"]) != CardBaits {
			return nil // of a newer program
		}
		c := CardRead{Reader: f["reader"], Card: card, Protocol: f["protocol"], Key: paper.CardAnswers(p, card)}
		for _, a := range f["answers"] {
			c.Answers = append(c.Answers, a == '2')
		}
		c.Agreement = gear.Agree(c.Answers, c.Key)
		list = append(list, c)
		return nil
	})
	sort.Slice(list, func(i, j int) bool {
		if list[i].Reader != list[j].Reader {
			return list[i].Reader < list[j].Reader
		}
		return list[i].Card < list[j].Card
	})
	return list, err
}

// Pair is how far two readers agree on the cards that both have read.
type Pair struct {
	A, B  string
	Cards int
	gear.Agreement
}

// ReaderPairs compares every two readers over the cards that both have read by
// the same protocol.
func ReaderPairs(list []CardRead) []Pair {
	var out []Pair
	byReader := map[string][]CardRead{}
	var names []string
	for _, c := range list {
		if byReader[c.Reader] == nil {
			names = append(names, c.Reader)
		}
		byReader[c.Reader] = append(byReader[c.Reader], c)
	}
	for i, a := range names {
		for _, b := range names[i+1:] {
			p := Pair{A: a, B: b}
			var x, y []bool
			for _, ca := range byReader[a] {
				for _, cb := range byReader[b] {
					if ca.Card == cb.Card && ca.Protocol == cb.Protocol {
						x, y = append(x, ca.Answers...), append(y, cb.Answers...)
						p.Cards++
					}
				}
			}
			if p.Cards > 0 {
				p.Agreement = gear.Agree(x, y)
				out = append(out, p)
			}
		}
	}
	return out
}

// ReadersJSON is the answer of `soakline cards readers --json`.
type ReadersJSON struct {
	Contract int        `json:"contract"`
	Cards    []CardJSON `json:"cards"`
	Pairs    []PairJSON `json:"pairs"`
}

// CardJSON is one card as one reader answered it.
type CardJSON struct {
	Reader string               `json:"reader"`
	Card   uint64               `json:"card"`
	Baits  int                  `json:"baits"`
	Right  int                  `json:"right"`
	Kappa  assay.Maybe[float64] `json:"kappa"`
	Wrong  []int                `json:"wrong"`
}

// PairJSON is how far two readers agree.
type PairJSON struct {
	A     string               `json:"a"`
	B     string               `json:"b"`
	Cards int                  `json:"cards"`
	Baits int                  `json:"baits"`
	Same  int                  `json:"same"`
	Kappa assay.Maybe[float64] `json:"kappa"`
}

// Wrong lists the baits that were answered wrongly, 1 for the first.
func (c CardRead) Wrong() []int {
	out := []int{}
	for i := range c.Answers {
		if c.Answers[i] != c.Key[i] {
			out = append(out, i+1)
		}
	}
	return out
}

// ReadersList turns cards into the contract's form.
func ReadersList(list []CardRead) ReadersJSON {
	out := ReadersJSON{1, []CardJSON{}, []PairJSON{}}
	for _, c := range list {
		out.Cards = append(out.Cards, CardJSON{c.Reader, c.Card, c.N, c.Same, c.Kappa, c.Wrong()})
	}
	for _, p := range ReaderPairs(list) {
		out.Pairs = append(out.Pairs, PairJSON{p.A, p.B, p.Cards, p.N, p.Same, p.Kappa})
	}
	return out
}
