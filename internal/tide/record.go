package tide

import (
	"math"
	"time"
)

// yearH is a mean year in hours.
const yearH = 8766.0

// FarFromRecord warns when a prediction lies far from the record that its
// constituents were found in: further away than the record is long, and than a month.
// The mean level and the yearly constituents drift, and what a short record
// could not separate changes from month to month. Zero times give no message.
func FarFromRecord(recordFrom, recordTo, from, to time.Time) []Message {
	if recordFrom.IsZero() || recordTo.IsZero() || !recordTo.After(recordFrom) {
		return nil
	}
	length := recordTo.Sub(recordFrom)
	far := max(from.Sub(recordTo), to.Sub(recordTo), recordFrom.Sub(from), recordFrom.Sub(to))
	if far <= length || far.Hours() <= yearH/12 {
		return nil
	}
	return []Message{say("tide.far-from-record", "days", int(math.Round(length.Hours()/24)), "far", int(math.Round(far.Hours()/24)))}
}
