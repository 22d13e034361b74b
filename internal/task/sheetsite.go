package task

import (
	"context"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/paper"
	"soakline/internal/sun"
	"soakline/internal/visits"
	"soakline/internal/water"
	"soakline/internal/words"
)

// SheetSites is what the site book tells for sheets: sites, and the water of
// those that name a source of the tide.
type SheetSites struct {
	l     words.Language
	sites []assay.Site
	water map[string]*water.Opened // by name
	// Notices say which site's tide could not be used, and why.
	Notices []string
}

// SheetSitesOf opens the tides of a season's sites. A source that is no logbook
// has none; a tide that cannot be used leaves the sheets without water.
func SheetSitesOf(ctx context.Context, l words.Language, s *Season, sources []string) (*SheetSites, error) {
	out := &SheetSites{l: l, sites: s.Sites, water: map[string]*water.Opened{}}
	if len(sources) != 1 {
		return out, nil
	}
	if is, err := IsLogbook(sources[0]); err != nil || !is {
		return out, nil // a folder or a datasheet, read already
	}
	book, err := Open(ctx, sources[0], true)
	if err != nil {
		return nil, err
	}
	defer book.Close()
	return SheetSitesIn(ctx, l, s, book)
}

// SheetSitesIn is SheetSitesOf for a logbook that is open.
func SheetSitesIn(ctx context.Context, l words.Language, s *Season, book *logbook.Book) (*SheetSites, error) {
	out := &SheetSites{l: l, sites: s.Sites, water: map[string]*water.Opened{}}
	err := book.View(ctx, func(tx *logbook.Tx) error {
		for i := range out.sites {
			site := &out.sites[i]
			o, err := SiteWater(tx, site)
			if refused, ok := err.(*Refused); ok {
				out.Notices = append(out.Notices, site.Name+": "+l.Say(refused.Slug, refused.With))
			} else if err != nil {
				return err
			}
			if o != nil {
				out.water[site.Name] = o
			}
		}
		return nil
	})
	return out, err
}

// of is the site of a row in the book, nil where it is not there.
func (k *SheetSites) of(d *assay.Deployment) *assay.Site {
	if k == nil {
		return nil
	}
	site, err := FindSite(k.sites, d.Site)
	if err != nil {
		return nil
	}
	return &site
}

// fill puts what the book knows of a row's site on its sheet.
func (k *SheetSites) fill(r *paper.Row, site *assay.Site, day time.Time) {
	if site == nil {
		return
	}
	var notes, permits []string
	for _, x := range []struct{ slug, value string }{{"way-in", site.WayIn}, {"hazards", site.Hazards}, {"shelter", site.Shelter}} {
		if x.value != "" {
			notes = append(notes, k.l.Say("paper.site-"+x.slug, words.P{"value": strings.TrimRight(x.value, ". ")}))
		}
	}
	r.Notes, r.Emergency = strings.Join(notes, " "), site.Emergency
	for _, p := range site.Permits {
		if !p.ExpiredOn(day) {
			permits = append(permits, p.Number)
		}
	}
	r.Permit = strings.Join(permits, ", ")
}

// tell adds water, light and the time to turn back of a visit at a time on the
// row's clock.
func (k *SheetSites) tell(due *paper.Due, site *assay.Site, at time.Time) {
	if site == nil {
		return
	}
	if lat, lon, ok := site.Placed(); ok {
		due.Light = sunUp(lat, lon, at)
	}
	o := k.water[site.Name]
	if o == nil {
		return
	}
	if h, ok := visits.HeightAt(o.Source, at.UTC()); ok {
		shallow, known := site.ShallowBedM.Get()
		if known {
			due.Water = k.depths(h-shallow, h-site.DeepBedM.Or(shallow))
		}
	}
	var closed bool
	if due.LeaveBy, closed = k.leaveBy(o.Source, site, at); closed {
		due.Water = strings.TrimSpace(due.Water + " " + k.l.Say("paper.site-way-closed", nil))
	}
}

// depths is the water over the two ends of a row, in metres.
func (k *SheetSites) depths(shallow, deep float64) string {
	a, b := words.Number(shallow, "1"), words.Number(deep, "1")
	if a == b {
		return k.l.Say("paper.site-depth", words.P{"m": shallow})
	}
	return k.l.Say("paper.site-depths", words.P{"from": shallow, "to": deep})
}

// sunUp is from sunrise to sunset on the day of a visit, minutes inside it;
// empty where the sun does not rise and set once.
func sunUp(latDeg, lonDeg float64, at time.Time) string {
	day, err := sun.OfDay(latDeg, lonDeg, at.Year(), at.Month(), at.Day(), at.Location())
	if err != nil || len(day.Sunrise) != 1 || len(day.Sunset) != 1 {
		return ""
	}
	rise, set := visits.Minute(day.Sunrise[0], visits.Begin).In(at.Location()), visits.Minute(day.Sunset[0], visits.End).In(at.Location())
	return rise.Format("15:04") + "–" + set.Format("15:04")
}

// leaveBy is the last minute at which one can leave the row and still cross the
// way: before the water next stands above the site's access level, less the
// walk. Empty where the way stays open for half a day, or it is not known; a way
// that is closed already is said.
func (k *SheetSites) leaveBy(src visits.Source, site *assay.Site, at time.Time) (text string, closed bool) {
	access, ok := site.AccessM.Get()
	if !ok {
		return "", false
	}
	leave, closed := leaveAt(src, access, time.Duration(site.WalkMin.Or(0)*float64(time.Minute)), at)
	if leave.IsZero() {
		return "", closed
	}
	return dueTime(at, leave), false
}

// leaveAt is the last whole minute at which one can leave and still cross the way,
// which is open up to a height; zero where it stays open for half a day or the water
// is not known. closed says that it is too late already.
func leaveAt(src visits.Source, accessM float64, walk time.Duration, at time.Time) (leave time.Time, closed bool) {
	start := at.Truncate(time.Minute)
	for t := start; t.Before(start.Add(12 * time.Hour)); t = t.Add(time.Minute) {
		h, known := visits.HeightAt(src, t.UTC())
		if !known {
			return time.Time{}, false
		}
		if h <= accessM {
			continue
		}
		// Passable one minute before, at least: the walk ends there.
		if leave = t.Add(-time.Minute - walk).Truncate(time.Minute); leave.Before(start) {
			return time.Time{}, true
		}
		return leave, false
	}
	return time.Time{}, false
}
