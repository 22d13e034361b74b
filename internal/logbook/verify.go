package logbook

import (
	"context"
	"errors"
)

// Slugs of faults that Verify finds.
const (
	FaultIntegrity = "logbook.fault-integrity" // said
	FaultPointer   = "logbook.fault-pointer"   // table, line, parent
)

// Fault is one thing wrong with a logbook, told as slug and parameters.
type Fault struct {
	Slug   string
	Params map[string]any
}

// FaultsError joins faults into one error, for wrapping.
func FaultsError(faults []Fault) error {
	var all []error
	for _, f := range faults {
		all = append(all, &Error{Slug: f.Slug, Params: f.Params})
	}
	return errors.Join(all...)
}

// Verify lists what is wrong with a logbook; none when it is whole.
func (b *Book) Verify(ctx context.Context) (faults []Fault, err error) {
	err = b.View(ctx, func(tx *Tx) error {
		found, err := b.dialect.Integrity(ctx, tx.sql)
		faults = append(faults, found...)
		return err
	})
	return faults, err
}
