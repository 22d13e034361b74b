package main

import (
	"errors"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"soakline/internal/pattern"
	"soakline/internal/place"
	"soakline/internal/task"
	"soakline/internal/words"
)

func (a *app) placeCmd() *cobra.Command {
	return a.groupCmd("place", a.placeReadCmd(), a.placeBetweenCmd(), a.placeFromCmd(), a.placeRowCmd(), a.placeRowsCmd(), a.placeMatchCmd())
}

// placeError puts what package place refuses into the words of a refusal.
func placeError(err error) error {
	var r *place.Refusal
	if errors.As(err, &r) {
		return &task.Refused{Slug: r.Slug, With: r.With}
	}
	return err
}

func (a *app) placeReadCmd() *cobra.Command {
	var near, within, region, latitude, longitude string
	var asJSON bool
	c := a.commandAs("place.read", "read TEXT", a.argCount(0, -1), func(c *cobra.Command, args []string) error {
		o, err := a.expected(c, near, within, region)
		if err != nil {
			return err
		}
		fields := c.Flags().Changed("latitude") || c.Flags().Changed("longitude")
		if fields == (len(args) > 0) {
			return a.usage(c, "cmd.place.text-or-fields")
		}
		var r place.Reading
		if fields {
			r, err = place.ReadPair(latitude, longitude, o)
		} else {
			r, err = place.Read(strings.Join(args, " "), o)
		}
		if err != nil {
			return placeError(err)
		}
		if asJSON {
			err = a.json(readingOf(r))
		} else {
			a.printReading(r)
		}
		if err == nil && !r.Clear() {
			err = exit{exitUnmet}
		}
		return err
	})
	c.Annotations = map[string]string{textVerb: "yes"}
	f := c.Flags()
	f.StringVar(&near, "near", "", a.say("cmd.place.flag-near"))
	f.StringVar(&within, "within", "", a.say("cmd.place.flag-within"))
	f.StringVar(&region, "region", "", a.say("cmd.place.flag-region"))
	f.StringVar(&latitude, "latitude", "", a.say("cmd.place.flag-latitude"))
	f.StringVar(&longitude, "longitude", "", a.say("cmd.place.flag-longitude"))
	a.jsonFlag(c, &asJSON)
	return c
}

// expected is where the position should be, from the flags.
func (a *app) expected(c *cobra.Command, near, within, region string) (o place.Options, err error) {
	wrong := func(flag, given, wanted string) error {
		return a.usage(c, "cmd.usage.number", "flag", flag, "given", given, "wanted", words.Ref{Slug: wanted})
	}
	if near != "" {
		x, ok := numbers(near, 2)
		if !ok || !place.ValidPosition(x[0], x[1]) {
			return o, wrong("--near", near, "cmd.wanted.near")
		}
		o.Near = &place.Point{LatDeg: x[0], LonDeg: x[1]}
	}
	if within != "" {
		if o.Near == nil {
			return o, a.usage(c, "cmd.place.within-what")
		}
		if o.WithinKm, err = strconv.ParseFloat(within, 64); err != nil || !(o.WithinKm > 0 && o.WithinKm <= 20100) {
			return o, wrong("--within", within, "cmd.wanted.within")
		}
	}
	if region != "" {
		x, ok := numbers(region, 4)
		if !ok || !place.ValidPosition(x[0], x[2]) || !place.ValidPosition(x[1], x[3]) || x[0] > x[1] {
			return o, wrong("--region", region, "cmd.wanted.region")
		}
		o.Region = &place.Box{LatMin: x[0], LatMax: x[1], LonMin: x[2], LonMax: x[3]}
	}
	return o, nil
}

// numbers reads n numbers divided by commas.
func numbers(s string, n int) ([]float64, bool) {
	parts := strings.Split(strings.ReplaceAll(s, "−", "-"), ",")
	var out []float64
	for _, p := range parts {
		x, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			return nil, false
		}
		out = append(out, x)
	}
	return out, len(out) == n
}

type readingJSON struct {
	Contract    int             `json:"contract"`
	Latitude    *float64        `json:"latitude"`
	Longitude   *float64        `json:"longitude"`
	Notation    place.Notation  `json:"notation"`
	ResolutionM float64         `json:"resolution_m"`
	Questions   []questionJSON  `json:"questions"`
	Candidates  []candidateJSON `json:"candidates"`
}

type questionJSON struct {
	Slug string `json:"slug"`
	Text string `json:"text"`
}

type candidateJSON struct {
	Latitude  float64 `json:"latitude"`
	Longitude float64 `json:"longitude"`
	questionJSON
}

func questionOf(q place.Question) questionJSON {
	return questionJSON{strings.TrimPrefix(q.Slug, "place."), english.Say(q.Slug, q.With)}
}

func readingOf(r place.Reading) readingJSON {
	j := readingJSON{
		Contract: 1, Notation: r.Notation, ResolutionM: significant(r.ResolutionM, 3),
		Questions: []questionJSON{}, Candidates: []candidateJSON{},
	}
	if r.Known() {
		lat, lon := decimals(r.LatDeg, 12), decimals(r.LonDeg, 12)
		j.Latitude, j.Longitude = &lat, &lon
	}
	for _, q := range r.Questions {
		j.Questions = append(j.Questions, questionOf(q))
	}
	for _, k := range r.Candidates {
		j.Candidates = append(j.Candidates, candidateJSON{decimals(k.LatDeg, 12), decimals(k.LonDeg, 12), questionOf(k.Why)})
	}
	return j
}

// significant keeps n significant digits.
func significant(x float64, n int) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', n, 64), 64)
	if err != nil {
		return x
	}
	return y
}

func (a *app) printReading(r place.Reading) {
	if r.Known() {
		a.print(a.out, a.say("cmd.place.read-as", "latitude", coordinate(r.LatDeg), "longitude", coordinate(r.LonDeg),
			"notation", words.Ref{Slug: "cmd.place.notation-" + strings.ReplaceAll(strings.ReplaceAll(string(r.Notation), ",", ""), " ", "-")}, "metres", significant(r.ResolutionM, 2)))
		if zones := place.ZoneProposals(r.LatDeg, r.LonDeg); len(zones) > 0 {
			var names []string
			for _, z := range zones {
				if !z.Sea || len(zones) == 1 {
					names = append(names, z.Name)
				}
			}
			a.print(a.out, a.say("cmd.place.zones", "zones", names))
		}
	} else {
		a.print(a.out, a.say("cmd.place.none-preferred"))
	}
	told := map[string]bool{}
	for _, q := range r.Questions {
		s := a.lang.Say(q.Slug, q.With)
		told[s] = true
		a.print(a.out, "? "+s)
	}
	for _, k := range r.Candidates {
		if s := a.lang.Say(k.Why.Slug, k.Why.With); !told[s] {
			a.print(a.out, "  "+s)
		}
	}
}

// coordinate is one that can be typed back in, to 6 decimals.
func coordinate(deg float64) string { return strconv.FormatFloat(decimals(deg, 6), 'f', 6, 64) }

// point reads latitude and longitude out of two words, decimal degrees.
func (a *app) point(c *cobra.Command, lat, lon string) (latDeg, lonDeg float64, err error) {
	if latDeg, err = a.decimal(c, "LAT", lat, -90, 90, "cmd.wanted.latitude"); err != nil {
		return 0, 0, err
	}
	lonDeg, err = a.decimal(c, "LON", lon, -180, 180, "cmd.wanted.longitude")
	return latDeg, lonDeg, err
}

func (a *app) placeBetweenCmd() *cobra.Command {
	var asJSON bool
	c := a.commandAs("place.between", "between LAT1 LON1 LAT2 LON2", a.argCount(4, 4), func(c *cobra.Command, args []string) error {
		lat1, lon1, err := a.point(c, args[0], args[1])
		if err != nil {
			return err
		}
		lat2, lon2, err := a.point(c, args[2], args[3])
		if err != nil {
			return err
		}
		m, azimuth1, azimuth2 := place.Between(lat1, lon1, lat2, lon2)
		if asJSON {
			return a.json(struct {
				Contract  int     `json:"contract"`
				DistanceM float64 `json:"distance_m"`
				Azimuth1  float64 `json:"azimuth1_deg"`
				Azimuth2  float64 `json:"azimuth2_deg"`
			}{1, decimals(m, 8), decimals(azimuth1, 11), decimals(azimuth2, 11)})
		}
		a.print(a.out, a.say("cmd.place.between-done", "metres", m, "azimuth1", compass(azimuth1), "azimuth2", compass(azimuth2)))
		return nil
	})
	a.jsonFlag(c, &asJSON)
	return c
}

// compass brings an azimuth into 0..360, as a compass card has it.
func compass(deg float64) float64 {
	if deg < 0 {
		deg += 360
	}
	if math.Round(deg*100) >= 36000 { // it is printed to two decimals
		deg = 0
	}
	return deg
}

func (a *app) placeFromCmd() *cobra.Command {
	var asJSON bool
	c := a.commandAs("place.from", "from LAT LON AZIMUTH DISTANCE_M", a.argCount(4, 4), func(c *cobra.Command, args []string) error {
		lat, lon, err := a.point(c, args[0], args[1])
		if err != nil {
			return err
		}
		azimuth, err := a.decimal(c, "AZIMUTH", args[2], -360, 360, "cmd.wanted.azimuth")
		if err != nil {
			return err
		}
		m, err := a.decimal(c, "DISTANCE_M", args[3], -1e9, 1e9, "cmd.wanted.distance")
		if err != nil {
			return err
		}
		lat2, lon2, azimuth2 := place.From(lat, lon, azimuth, m)
		if asJSON {
			return a.json(struct {
				Contract  int     `json:"contract"`
				Latitude  float64 `json:"latitude"`
				Longitude float64 `json:"longitude"`
				Azimuth2  float64 `json:"azimuth2_deg"`
			}{1, decimals(lat2, 13), decimals(lon2, 13), decimals(azimuth2, 11)})
		}
		a.print(a.out, a.say("cmd.place.from-done", "latitude", coordinate(lat2), "longitude", coordinate(lon2), "azimuth2", compass(azimuth2)))
		return nil
	})
	a.jsonFlag(c, &asJSON)
	return c
}

func (a *app) placeRowCmd() *cobra.Command {
	var bearing, declination, spacing, first, stakes, out, name string
	var asJSON bool
	c := a.commandAs("place.row", "row LAT LON --bearing DEGREES", a.argCount(2, 2), func(c *cobra.Command, args []string) error {
		lat, lon, err := a.point(c, args[0], args[1])
		if err != nil {
			return err
		}
		trueDeg, err := a.trueBearing(c, bearing, declination)
		if err != nil {
			return err
		}
		every, err := a.decimal(c, "--spacing", spacing, 1e-3, 1e5, "cmd.wanted.spacing")
		if err != nil {
			return err
		}
		firstM, err := a.decimal(c, "--first", first, -1e5, 1e5, "cmd.wanted.first")
		if err != nil {
			return err
		}
		n, err := strconv.Atoi(stakes)
		if err != nil || n < 1 || n > 10000 {
			return a.usage(c, "cmd.usage.number", "flag", "--stakes", "given", stakes, "wanted", words.Ref{Slug: "cmd.wanted.stakes"})
		}
		row, err := place.RowStakes(lat, lon, trueDeg, firstM, every, n)
		if err != nil {
			return err
		}
		if out != "" {
			if err := a.writeRows(c, out, []place.RowOut{{Name: name, Stakes: row}}); err != nil {
				return err
			}
		}
		if asJSON {
			return a.json(rowOf(trueDeg, row))
		}
		t := a.table(a.say("cmd.place.col-stake"), a.say("cmd.place.col-along"), "latitude", "longitude")
		for _, s := range row {
			t.row(s.Number, words.Number(s.AlongM, "2"), strconv.FormatFloat(decimals(s.LatDeg, 7), 'f', 7, 64), strconv.FormatFloat(decimals(s.LonDeg, 7), 'f', 7, 64))
		}
		t.print()
		a.print(a.out, a.say("cmd.place.row-caution"))
		return nil
	})
	f := c.Flags()
	f.StringVar(&bearing, "bearing", "", a.say("cmd.place.flag-bearing"))
	f.StringVar(&declination, "declination", "", a.say("cmd.place.flag-declination"))
	f.StringVar(&spacing, "spacing", "2", a.say("cmd.place.flag-spacing"))
	f.StringVar(&stakes, "stakes", "25", a.say("cmd.place.flag-stakes"))
	f.StringVar(&first, "first", "0", a.say("cmd.place.flag-first"))
	f.StringVar(&out, "out", "", a.say("cmd.place.flag-out"))
	f.StringVar(&name, "name", "row", a.say("cmd.place.flag-name"))
	a.jsonFlag(c, &asJSON)
	return c
}

type rowJSON struct {
	Contract       int         `json:"contract"`
	BearingTrueDeg float64     `json:"bearing_true_deg"`
	Stakes         []stakeJSON `json:"stakes"`
}

type stakeJSON struct {
	Stake     int     `json:"stake"`
	AlongM    float64 `json:"along_m"`
	Latitude  float64 `json:"latitude"`
	Longitude float64 `json:"longitude"`
}

func rowOf(trueDeg float64, row []place.Stake) rowJSON {
	j := rowJSON{Contract: 1, BearingTrueDeg: decimals(trueDeg, 9), Stakes: []stakeJSON{}}
	for _, s := range row {
		j.Stakes = append(j.Stakes, stakeJSON{s.Number, decimals(s.AlongM, 9), decimals(s.LatDeg, 9), decimals(s.LonDeg, 9)})
	}
	return j
}

var bearingForm = pattern.New(`(?i)^\s*([+-]?\d+(?:\.\d+)?)\s*°?\s*(t|true|v|m|mag|magnetic|magnético|magnetico)?\.?\s*$`)

// trueBearing reads a bearing. A magnetic one, or one with a declination, is
// turned into a true one; magnetic without declination is refused, since the
// needle may point tens of degrees off.
func (a *app) trueBearing(c *cobra.Command, text, declination string) (float64, error) {
	if text == "" {
		return 0, a.usage(c, "cmd.place.needs-bearing")
	}
	wrong := func() error {
		return a.usage(c, "cmd.usage.number", "flag", "--bearing", "given", text, "wanted", words.Ref{Slug: "cmd.wanted.azimuth"})
	}
	m := bearingForm.FindStringSubmatch(strings.ReplaceAll(text, "−", "-"))
	if m == nil {
		return 0, wrong()
	}
	deg, err := strconv.ParseFloat(m[1], 64)
	if err != nil || math.Abs(deg) > 360 {
		return 0, wrong()
	}
	mark := strings.ToLower(m[2])
	magnetic := strings.HasPrefix(mark, "m")
	switch {
	case declination == "" && magnetic:
		return 0, a.usage(c, "cmd.place.magnetic", "bearing", text)
	case declination == "":
		return deg + 0, nil
	case mark != "" && !magnetic:
		return 0, a.usage(c, "cmd.place.true-and-declination", "bearing", text)
	}
	d, err := a.decimal(c, "--declination", declination, -180, 180, "cmd.wanted.declination")
	if err != nil {
		return 0, err
	}
	return math.Mod(deg+d+720, 360), nil
}
