package task

import (
	"maps"
	"slices"
	"time"

	"soakline/internal/logbook"
)

// check refuses a time zone that is none and a protocol that neither the
// program nor the logbook knows; tx is nil where there is no logbook yet.
func (s Settings) check(tx *logbook.Tx) error {
	if s.Zone != "" {
		if _, err := time.LoadLocation(s.Zone); err != nil || s.Zone == "Local" {
			return refuse("zone-unknown", "zone", s.Zone)
		}
	}
	if s.Protocol == "" {
		return nil
	}
	all, _, err := Protocols(tx)
	if err != nil {
		return err
	}
	if _, ok := all[s.Protocol]; !ok {
		return refuse("protocol-unknown", "protocol", s.Protocol, "known", slices.Sorted(maps.Keys(all)))
	}
	return nil
}
