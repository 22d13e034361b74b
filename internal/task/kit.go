package task

import (
	"context"
	"strings"

	"soakline/internal/gear"
	"soakline/internal/logbook"
	"soakline/internal/prep"
)

// kitCode is the code of the one kit that a logbook keeps.
const kitCode = "kit"

// KeptKit is the kit's text that a logbook keeps: measures, packs, prices and
// timings of the team's own; empty where it keeps none.
func KeptKit(ctx context.Context, book *logbook.Book) (text string, err error) {
	err = book.View(ctx, func(tx *logbook.Tx) error {
		r, found, err := findCode(tx, kindKit, kitCode)
		if found && r.State == logbook.Live {
			text = r.Fields["text"]
		}
		return err
	})
	return text, err
}

// mostKitBytes bounds a kit: the usual one has a twentieth of it.
const mostKitBytes = 64 << 10

// KeepKit keeps a kit in the logbook, for prep and for packing lists; an empty
// text goes back to the usual kit. It is Refused where the text is no kit.
func KeepKit(ctx context.Context, book *logbook.Book, text string, by By) error {
	text = strings.TrimSpace(strings.ReplaceAll(text, "\r\n", "\n"))
	if len(text) > mostKitBytes {
		return refuse("kit-long", "most", mostKitBytes>>10)
	}
	if _, err := ReadKit(text); err != nil {
		return err
	}
	return book.Change(ctx, func(tx *logbook.Tx) error {
		return putCode(tx, kindKit, kitCode, map[string]string{"text": text}, by.stamp())
	})
}

// KitOf is the kit by which a logbook's quantities are reckoned: its own, else
// the usual one.
func KitOf(ctx context.Context, book *logbook.Book) (prep.Kit, error) {
	text, err := KeptKit(ctx, book)
	if err != nil {
		return prep.Kit{}, err
	}
	return ReadKit(text)
}

// Prepare reckons what so many rows need, and how helpers share the work.
func Prepare(k prep.Kit, a prep.Ask) (prep.List, prep.Production, error) {
	l, err := Materials(k, a)
	if err != nil {
		return l, prep.Production{}, err
	}
	for _, x := range l.Lines {
		if x.Item == "baits" {
			return l, prep.Produce(k.Steps, x.Total, a.Helpers), nil
		}
	}
	return l, prep.Production{}, nil
}

// rejected counts the baits of all samples that were measured, and those that
// were out of size or had too much line free. Where a sample has both measures
// they may be of the same baits; then a bait out in both counts twice, and no
// more are counted than were measured.
func rejected(s *Season) (measured, out int) {
	for _, b := range s.Batches {
		outside := gear.SizeOutside(b, s.usual())
		for _, x := range b.Samples {
			n, bad := max(len(x.SizesMM), len(x.TethersMM)), 0
			for _, mm := range x.SizesMM {
				if outside(mm) {
					bad++
				}
			}
			for _, mm := range x.TethersMM {
				if gear.LineOutside(mm) {
					bad++
				}
			}
			measured, out = measured+n, out+min(n, bad)
		}
	}
	return measured, out
}
