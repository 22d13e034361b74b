package compare

import (
	"fmt"

	"soakline/internal/assay"
)

// OptionError is an option that cannot be, as a slug and its parameters.
type OptionError struct{ assay.Said }

func (e *OptionError) Error() string { return fmt.Sprint(e.Slug, " ", e.With) }

// Settled is what was asked with every choice that was left open filled in as a
// comparison does by itself; an OptionError for an option that cannot be.
func (o Options) Settled() (Options, error) {
	o, err := o.withDefaults()
	o.Quadrature = max(1, o.Quadrature)
	return o, err
}

func wrong(slug string, pairs ...any) error {
	with := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	return &OptionError{assay.Said{Slug: slug, With: with}}
}
