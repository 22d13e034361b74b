package report

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"soakline/internal/figure"
	"soakline/internal/words"
)

// SiteWater is the water and the light at one site on the days on which rows were
// set out there: a calendar of the days on which one could be, and a drawing of each
// day with the visits as they were made. Task has worked it out; here it is shown.
type SiteWater struct {
	Site     string
	Told     []string // what was asked of a start, how many days had one, what to know
	Calendar figure.Calendar
	Days     []figure.Day
}

// Water is what the report tells of water and light.
type Water struct {
	Sites    []SiteWater
	Withheld int // sites that are kept from the public and so are not shown
}

// waterPictures are the drawings of one site, the calendar first. alone says that
// each becomes a file of its own and must say what it shows, and the whole caution.
func (s *SiteWater) pictures(l words.Language, n int, alone bool) []picture {
	id := "water-" + strconv.Itoa(n+1)
	note := func(text *string) {
		if alone {
			*text = strings.TrimSpace(*text + " " + l.Say("windows.caution", nil))
		} else {
			*text = strings.TrimSpace(*text + " " + l.Say("windows.caution-short", nil))
		}
	}
	var out []picture
	if c := s.Calendar; len(c.Days) > 0 {
		if note(&c.Note); alone {
			c.Heading = c.Title
		}
		out = append(out, picture{id + "-calendar", func(f figure.Frame) (*figure.Drawing, error) { return figure.DrawCalendar(c, f) }})
	}
	for i, y := range s.Days {
		if note(&y.Note); alone {
			y.Heading = y.Title
		}
		out = append(out, picture{id + "-day-" + strconv.Itoa(i+1), func(f figure.Frame) (*figure.Drawing, error) { return figure.DrawDay(y, f) }})
	}
	return out
}

// waterPart is a site's water on the page.
type waterPart struct {
	SiteWater
	Pictures []waterPicture
}

type waterPicture struct {
	Title string
	HTML  template.HTML
}

// water draws the water of every site for the page.
func (v *view) water() error {
	if v.Input.Water == nil {
		return nil
	}
	for n := range v.Input.Water.Sites {
		part := waterPart{SiteWater: v.Input.Water.Sites[n]}
		for _, p := range part.pictures(v.Lang, n, false) {
			d, err := p.draw(figure.Frame{ID: p.id, WidthMM: figure.ScreenMM(720), Look: figure.Screen})
			if err != nil {
				return fmt.Errorf("drawing %s: %w", p.id, err)
			}
			html, err := both(p)
			if err != nil {
				return err
			}
			part.Pictures = append(part.Pictures, waterPicture{d.Title, html})
		}
		v.WaterParts = append(v.WaterParts, part)
	}
	return nil
}

// water prints it: the caution once above, each drawing under its title.
func (p *printer) water(widthMM float64) error {
	w := p.Input.Water
	if w == nil {
		return nil
	}
	p.h2("report.h-water")
	p.para(printText, p.say("report.water-about"))
	p.para(printCare, p.say("windows.caution"))
	for n := range w.Sites {
		s := &w.Sites[n]
		p.h3(s.Site)
		for _, t := range s.Told {
			p.para(printText, t)
		}
		for _, x := range s.pictures(p.Lang, n, false) {
			d, err := x.draw(figure.Frame{ID: x.id, WidthMM: widthMM, Look: figure.Print})
			if err != nil {
				return fmt.Errorf("drawing %s: %w", x.id, err)
			}
			p.figure(d)
		}
	}
	if w.Withheld > 0 {
		p.para(printQuiet, p.say("report.water-withheld", "n", w.Withheld))
	}
	return nil
}
