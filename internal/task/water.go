package task

import (
	"errors"
	"math"
	"sync"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/sun"
	"soakline/internal/tide"
	"soakline/internal/visits"
	"soakline/internal/water"
	"soakline/internal/words"
)

// waterRefusal puts what the rooms of water and light refuse into the words of a
// refusal of this room.
func waterRefusal(err error) error {
	var (
		faulty *water.Faulty
		t      *tide.Refusal
		v      *visits.Refusal
		s      *sun.Refusal
	)
	switch {
	case errors.As(err, &faulty):
		return &FaultyFile{faulty.Faults}
	case errors.As(err, &t):
		return &Refused{Slug: t.Slug, With: t.With}
	case errors.As(err, &v):
		return &Refused{Slug: v.Slug, With: v.With}
	case errors.As(err, &s):
		return &Refused{Slug: s.Slug, With: s.With}
	}
	return err
}

// opened remembers files of water that were read and analysed: a year of a
// logger's values is not analysed again for every page. The key is all that the
// answer depends on.
var opened = struct {
	sync.Mutex
	tides   map[tideKey]*water.Opened
	loggers map[assay.Logger]*water.Logged
}{tides: map[tideKey]*water.Opened{}, loggers: map[assay.Logger]*water.Logged{}}

type tideKey struct {
	assay.Tide
	latDeg float64
}

// mostOpened bounds what is remembered; beyond it all is forgotten.
const mostOpened = 64

// SiteWater opens the tide of a site; nil where the site book names none.
func SiteWater(tx *logbook.Tx, s *assay.Site) (*water.Opened, error) {
	if s.Tide.Kind == "" || s.Tide.Source == "" {
		return nil, nil
	}
	key := tideKey{s.Tide, s.Latitude.Or(99)} // 99: no latitude; NaN is never equal
	opened.Lock()
	defer opened.Unlock()
	if o := opened.tides[key]; o != nil {
		return o, nil
	}
	data, err := tx.Original(s.Tide.Source)
	if err != nil {
		return nil, err
	}
	var air []byte
	if s.Tide.AirSource != "" {
		if air, err = tx.Original(s.Tide.AirSource); err != nil {
			return nil, err
		}
	}
	o, err := water.Open(s.Tide, data, air, s.Latitude.Or(math.NaN()))
	if err != nil {
		return nil, waterRefusal(err)
	}
	if len(opened.tides) >= mostOpened {
		clear(opened.tides)
	}
	opened.tides[key] = o
	return o, nil
}

// siteLogger opens a logger's series of a site.
func siteLogger(tx *logbook.Tx, g assay.Logger) (*water.Logged, error) {
	opened.Lock()
	defer opened.Unlock()
	if l := opened.loggers[g]; l != nil {
		return l, nil
	}
	data, err := tx.Original(g.Source)
	if err != nil {
		return nil, err
	}
	l, err := water.OpenLogger(g, data)
	if err != nil {
		return nil, waterRefusal(err)
	}
	if len(opened.loggers) >= mostOpened {
		clear(opened.loggers)
	}
	opened.loggers[g] = l
	return l, nil
}

// tideMessages are those of a file of water, as told.
func tideMessages(list []tide.Message) []words.Message {
	var out []words.Message
	for _, m := range list {
		out = append(out, words.Message{Slug: m.Slug, With: m.With})
	}
	return out
}
