package paper

import (
	"fmt"
	"math"
	"math/rand/v2"

	"soakline/internal/assay"
	"soakline/internal/figure"
	"soakline/internal/words"
)

// CardOptions say how a practice card is made; another seed is another card.
type CardOptions struct {
	Lang     words.Language
	Size     Size
	Protocol assay.Protocol
	Seed     uint64
	Title    string
}

// cardShares are how far from the threshold the twelve baits lie, as shares of
// a bait left: as many on either side, two of them close.
var cardShares = []float64{-0.44, -0.35, -0.26, -0.18, -0.11, -0.05, 0.05, 0.11, 0.18, 0.26, 0.35, 0.44}

// drawnBait is one bait of a card and its answer.
type drawnBait struct {
	b        bitten
	consumed bool
}

// card draws the twelve baits in an order and in ways that the seed decides.
func card(o CardOptions) []drawnBait {
	rnd := rand.New(rand.NewPCG(o.Seed, 0x63617264)) // stream "card"
	edge := 1 - o.Protocol.ConsumedFraction          // of the bait left
	out := make([]drawnBait, len(cardShares))
	order := rnd.Perm(len(cardShares))
	for i, k := range order {
		// Offsets shrink towards the threshold's nearer end, so that any threshold
		// leaves room on both sides.
		left := edge + cardShares[k]*2*min(edge, 1-edge)
		b := bite{angle: rnd.Float64() * 2 * math.Pi, reach: 1.1 + 1.3*rnd.Float64(), teeth: 7 + rnd.IntN(12), ripple: 0.02 + 0.05*rnd.Float64()}
		if i%4 == 3 && left > 0.3 {
			b.reach = 0
		}
		out[i] = drawnBait{eat(left, b), 1-left > o.Protocol.ConsumedFraction}
	}
	return out
}

// CardAnswers are the answers of a practice card: for each of its baits, in
// order, whether it is consumed.
func CardAnswers(p assay.Protocol, seed uint64) []bool {
	baits := card(CardOptions{Protocol: p, Seed: seed})
	out := make([]bool, len(baits))
	for i, b := range baits {
		out[i] = b.consumed
	}
	return out
}

// Practice prints a card of twelve drawn baits, and on a page of its own the
// answers. Errors: *NoGlyph, *NoRoom.
func Practice(o CardOptions) ([]byte, error) { return write(practicePages(o), o.Lang, o.Title) }

func practicePages(o CardOptions) []*page {
	baits := card(o)
	front, back := newPage(o.Size, o.Lang), newPage(o.Size, o.Lang)
	for _, p := range []*page{front, back} {
		answers := p == back
		title := p.say("card.title", "seed", int(o.Seed))
		if answers {
			title = p.say("card.answers", "seed", int(o.Seed))
		}
		p.Title = title
		y := marginMM
		p.Set(strong.Sized(7), p.Left(), y+7, figure.Start, title)
		y += 11
		y = p.Paragraph(plain, p.Left(), y, p.Inner(), p.say("card.how", "share", o.Protocol.ConsumedFraction)) + 3
		if !answers {
			b := fieldsBlock("reader", p.Inner(), field{label: p.say("field.reader"), least: 60}, field{label: p.say("field.date"), groups: []int{4, 2, 2}, sep: "-"},
				field{label: p.say("card.right"), groups: []int{2}})
			b.at(p, p.Left(), y)
			y += b.h + 3
		}
		p.cardGrid(baits, y, answers)
	}
	return []*page{front, back}
}

func (p *page) cardGrid(baits []drawnBait, top float64, answers bool) {
	const across, down = 3, 4
	w, h := p.Inner()/across, (p.Bottom()-8-top)/down
	for i, d := range baits {
		x, y := p.Left()+float64(i%across)*w, top+float64(i/across)*h
		p.Set(strong, x+1, y+5, figure.Start, fmt.Sprint(i+1))
		r := min(w*0.3, h*0.34)
		p.bait(d.b, x+w/2, y+h*0.4, r)
		base := y + h - 6
		if answers {
			slug := "card.present"
			if d.consumed {
				slug = "card.consumed"
			}
			p.Set(strong, x+w/2, base, figure.Middle, p.say(slug, "left", d.b.left))
			continue
		}
		at := x + 2
		for _, slug := range []string{"fate.present-one", "fate.consumed-one"} {
			p.box(at, base-4.6, tickMM, tickMM)
			p.Set(small, at+tickMM+1, base, figure.Start, p.say(slug))
			at += w / 2
		}
	}
	p.SetFit(quiet, p.Left(), p.Bottom(), p.Inner(), figure.Start, p.say("card.foot"))
}
