package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"soakline/internal/assay"
	"soakline/internal/place"
	"soakline/internal/sheet"
	"soakline/internal/task"
	"soakline/internal/words"
)

// placeMatchCmd looks for the rows of a source in a receiver's file.
func (a *app) placeMatchCmd() *cobra.Command {
	var r reading
	var minutes string
	var asJSON bool
	c := a.commandAs("place.match", "match FILE.gpx SOURCE…", a.argCount(2, -1), func(c *cobra.Command, args []string) error {
		near, err := a.decimal(c, "--minutes", minutes, 0, 1440, "cmd.wanted.minutes")
		if err != nil {
			return err
		}
		g, err := readGPX(args[0])
		if err != nil {
			return err
		}
		s, err := a.load(c, args[1:], r)
		if err != nil {
			return err
		}
		list := matchesOf(g, s.Deployments, time.Duration(near*float64(time.Minute)))
		if asJSON {
			err = a.json(matchListJSON{1, g.WithoutZone, list})
		} else {
			a.printMatches(g, list)
		}
		if err != nil {
			return err
		}
		for _, m := range list {
			if m.How == "none" || m.Others > 0 {
				return exit{exitUnmet}
			}
		}
		return nil
	})
	c.Flags().StringVar(&minutes, "minutes", "10", a.say("cmd.place.flag-minutes"))
	a.readingFlags(c, &r)
	a.jsonFlag(c, &asJSON)
	return c
}

// readGPX reads a receiver's file; a refusal names it.
func readGPX(path string) (place.GPX, error) {
	f, err := os.Open(path)
	if err != nil {
		return place.GPX{}, err
	}
	defer f.Close()
	g, err := place.ReadGPX(f)
	var bad *place.Refusal
	if errors.As(err, &bad) {
		return g, &task.Refused{Slug: "cmd.place.in-file", With: words.P{"file": filepath.Base(path), "said": words.Ref{Slug: bad.Slug, With: bad.With}}}
	}
	return g, err
}

type matchListJSON struct {
	Contract    int         `json:"contract"`
	WithoutZone int         `json:"times_without_zone"`
	Matches     []matchJSON `json:"matches"`
}

type matchJSON struct {
	ID        string   `json:"deployment_id"`
	How       string   `json:"how"`
	Latitude  *float64 `json:"latitude"`
	Longitude *float64 `json:"longitude"`
	Source    string   `json:"source"`
	OffS      float64  `json:"off_s"`
	Others    int      `json:"others"`
	DistanceM *float64 `json:"distance_m"`
}

// matchesOf gives a line for each row: where the file has it, and how far that
// is from the position the record holds.
func matchesOf(g place.GPX, rows []assay.Deployment, near time.Duration) []matchJSON {
	wanted := make([]place.Wanted, len(rows))
	for i, d := range rows {
		wanted[i] = place.Wanted{Name: d.ID, From: d.SetOut.At, To: d.SetOutUntil.At}
	}
	list := []matchJSON{}
	for i, m := range g.Match(wanted, near) {
		j := matchJSON{ID: rows[i].ID, How: strings.ReplaceAll(string(m.How), " ", "-"), Source: m.Source, OffS: decimals(m.Off.Seconds(), 3), Others: m.Others}
		if m.How == place.NotMade {
			j.How = "none"
			list = append(list, j)
			continue
		}
		lat, lon := decimals(m.LatDeg, 9), decimals(m.LonDeg, 9)
		j.Latitude, j.Longitude = &lat, &lon
		if oldLat, oldLon, ok := positionOf(rows[i]); ok {
			metres, _, _ := place.Between(oldLat, oldLon, lat, lon)
			metres = decimals(metres, 2)
			j.DistanceM = &metres
		}
		list = append(list, j)
	}
	return list
}

func positionOf(d assay.Deployment) (lat, lon float64, ok bool) {
	lat, one := d.Latitude.Get()
	lon, two := d.Longitude.Get()
	return lat, lon, one && two && place.ValidPosition(lat, lon)
}

func (a *app) printMatches(g place.GPX, list []matchJSON) {
	t := a.table(a.say("cmd.rates.col-row"), a.say("cmd.place.col-how"), a.say("cmd.place.col-source"), "latitude", "longitude", a.say("cmd.place.col-off"), a.say("cmd.place.col-others"), a.say("cmd.place.col-distance"))
	for _, m := range list {
		how := a.say("cmd.place.how-" + m.How)
		if m.Latitude == nil {
			t.row(m.ID, how, "–", "–", "–", "–", "–", "–")
			continue
		}
		distance := "–"
		if m.DistanceM != nil {
			distance = words.Number(*m.DistanceM, "0")
		}
		t.row(m.ID, how, m.Source, coordinate(*m.Latitude), coordinate(*m.Longitude), words.Number(m.OffS/60, "1"), m.Others, distance)
	}
	t.print()
	if g.WithoutZone > 0 {
		a.print(a.out, a.say("cmd.place.without-zone", "n", g.WithoutZone))
	}
	a.print(a.out, a.say("cmd.place.match-end"))
}

// placeRowsCmd writes the rows of a source for a receiver or a map.
func (a *app) placeRowsCmd() *cobra.Command {
	var r reading
	var out string
	c := a.commandAs("place.rows", "rows SOURCE… --out FILE.gpx", a.argCount(1, -1), func(c *cobra.Command, args []string) error {
		if out == "" {
			return a.usage(c, "cmd.place.needs-out")
		}
		s, err := a.load(c, args, r)
		if err != nil {
			return err
		}
		var rows []place.RowOut
		var without, single []string
		for _, d := range s.Deployments {
			row, whole, ok := a.rowOut(s, d)
			switch {
			case !ok:
				without = append(without, d.ID)
				continue
			case !whole:
				single = append(single, d.ID)
			}
			rows = append(rows, row)
		}
		if err := a.writeRows(c, out, rows); err != nil {
			return err
		}
		a.print(a.out, a.say("cmd.place.rows-done", "file", out, "n", len(rows)))
		if len(single) > 0 {
			a.print(a.out, a.say("cmd.place.rows-single", "n", len(single), "ids", single))
		}
		if len(without) > 0 {
			a.print(a.out, a.say("cmd.place.rows-without", "n", len(without), "ids", without))
			return exit{exitUnmet}
		}
		return nil
	})
	c.Flags().StringVar(&out, "out", "", a.say("cmd.place.flag-out"))
	a.readingFlags(c, &r)
	return c
}

// rowOut is a record's row with its stakes; whole is false where its direction
// is not known and only its position is told.
func (a *app) rowOut(s *task.Season, d assay.Deployment) (row place.RowOut, whole, ok bool) {
	lat, lon, ok := positionOf(d)
	if !ok {
		return row, false, false
	}
	row = place.RowOut{Name: d.ID, Source: a.say("cmd.place.row-source", "row", d.ID)}
	bearing, known := d.RowBearingDeg.Get()
	spacing, given := d.SpacingM.Get()
	if !given {
		p, there := s.Protocols[d.Protocol]
		for _, name := range []string{s.Settings.Protocol, sheet.DefaultProtocol} {
			if !there {
				p, there = s.Protocols[name]
			}
		}
		spacing = p.SpacingM
	}
	if known && d.Baits > 1 {
		stakes, err := place.RowStakes(lat, lon, bearing, 0, spacing, d.Baits)
		if err == nil {
			row.Stakes = stakes
			return row, true, true
		}
	}
	row.Stakes = []place.Stake{{Number: 1, LatDeg: lat, LonDeg: lon}}
	return row, false, true
}

// writeRows writes .gpx or .geojson. A file that is there is never overwritten.
func (a *app) writeRows(c *cobra.Command, out string, rows []place.RowOut) error {
	var write func(io.Writer, []place.RowOut) error
	switch strings.ToLower(filepath.Ext(out)) {
	case ".gpx":
		write = place.WriteGPX
	case ".geojson", ".json":
		write = place.WriteGeoJSON
	default:
		return a.usage(c, "cmd.place.out-kind", "file", out)
	}
	var b bytes.Buffer
	if err := write(&b, rows); err != nil {
		return err
	}
	f, err := os.OpenFile(out, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, os.ErrExist) {
		return &task.Refused{Slug: "cmd.place.out-there", With: words.P{"file": out}}
	}
	if err != nil {
		return err
	}
	_, err = f.Write(b.Bytes())
	if err := errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("writing %s: %w", out, err)
	}
	return nil
}
