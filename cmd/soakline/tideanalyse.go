package main

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"soakline/internal/assay"
	"soakline/internal/task"
	"soakline/internal/tide"
	"soakline/internal/words"
)

type analyseFlags struct {
	seriesFlags
	nodal, constituents, rayleigh, inference, out string
	infer                                         []string
	robust, trend, keepAll, json                  bool
}

func (a *app) tideAnalyseCmd() *cobra.Command {
	var p analyseFlags
	c := a.commandAs("tide.analyse", "analyse SERIES", a.argCount(1, 1), func(c *cobra.Command, args []string) error {
		return a.analyse(c, args[0], &p)
	})
	a.seriesFlagsOf(c, &p.seriesFlags)
	f := c.Flags()
	a.choice(c, &p.nodal, "nodal", []string{string(tide.Schureman), string(tide.Satellites)}, "cmd.tide.flag-nodal-analyse")
	f.StringVar(&p.constituents, "constituents", "", a.say("cmd.tide.flag-list"))
	f.StringVar(&p.rayleigh, "rayleigh", "1.0", a.say("cmd.tide.flag-rayleigh"))
	f.StringArrayVar(&p.infer, "infer", nil, a.say("cmd.tide.flag-infer"))
	a.choice(c, &p.inference, "inference", []string{"inside", "after"}, "cmd.tide.flag-inference")
	f.BoolVar(&p.robust, "robust", false, a.say("cmd.tide.flag-robust"))
	f.BoolVar(&p.trend, "trend", false, a.say("cmd.tide.flag-trend"))
	f.BoolVar(&p.keepAll, "keep-all", false, a.say("cmd.tide.flag-keep-all"))
	f.StringVar(&p.out, "out", "", a.say("cmd.tide.flag-out"))
	a.jsonFlag(c, &p.json)
	return c
}

// analysing turns the flags into what package tide takes.
func (a *app) analysing(c *cobra.Command, p *analyseFlags) (o tide.Analysing, err error) {
	o = tide.Analysing{Nodal: tide.Nodal(p.nodal), InferAfter: p.inference == "after", Robust: p.robust, Trend: p.trend, KeepAll: p.keepAll}
	if p.latitude != "" {
		if o.LatitudeDeg, err = a.degrees(c, "--latitude", p.latitude); err != nil {
			return o, err
		}
		if !c.Flags().Changed("nodal") {
			o.Nodal = tide.Satellites
		}
	} else if o.Nodal == tide.Satellites {
		return o, a.usage(c, "cmd.tide.needs-latitude")
	}
	var ok bool
	if o.Rayleigh, ok = positive(p.rayleigh); !ok || o.Rayleigh > 10 {
		return o, a.wanted(c, "--rayleigh", p.rayleigh, "cmd.tide.wanted-rayleigh")
	}
	if c.Flags().Changed("constituents") {
		o.Constituents = []string{}
		for _, n := range strings.Split(p.constituents, ",") {
			if n = strings.TrimSpace(n); n != "" {
				o.Constituents = append(o.Constituents, n)
			}
		}
	}
	o.Infer, err = a.inferences(c, p.infer)
	return o, err
}

func (a *app) analyse(c *cobra.Command, name string, p *analyseFlags) error {
	o, err := a.analysing(c, p)
	if err != nil {
		return err
	}
	series, messages, err := a.loggerSeries(c, name, &p.seriesFlags)
	if err != nil {
		return err
	}
	r, err := tide.Analyse(series, o)
	if err != nil {
		return waterError(err)
	}
	r.Messages = append(messages, r.Messages...)
	if p.out != "" {
		if err := writeConstituents(p.out, r); err != nil {
			return err
		}
	}
	if p.json {
		return a.json(analysisOf(r))
	}
	a.printAnalysis(r)
	if p.out != "" {
		a.print(a.out, a.say("cmd.tide.written", "file", p.out))
	}
	return nil
}

type constituentJSON struct {
	Name         string              `json:"name"`
	Speed        float64             `json:"speed_deg_per_h"`
	AmplitudeM   float64             `json:"amplitude_m"`
	AmplitudeSE  float64             `json:"amplitude_se_m"`
	PhaseDeg     float64             `json:"phase_deg"`
	PhaseSE      float64             `json:"phase_se_deg"`
	Significant  bool                `json:"significant"`
	InferredFrom assay.Maybe[string] `json:"inferred_from"`
}

type flaggedJSON struct {
	At     string  `json:"at"`
	LevelM float64 `json:"level_m"`
	Slug   string  `json:"slug"`
}

type analysisJSON struct {
	Contract     int                  `json:"contract"`
	Nodal        string               `json:"nodal"`
	Constituents []constituentJSON    `json:"constituents"`
	MeanM        float64              `json:"mean_m"`
	MeanSEM      float64              `json:"mean_se_m"`
	Trend        assay.Maybe[float64] `json:"trend_m_per_year"`
	ResidualSDM  float64              `json:"residual_sd_m"`
	Condition    float64              `json:"condition"`
	From         string               `json:"from"`
	To           string               `json:"to"`
	SpanDays     float64              `json:"span_days"`
	Used         int                  `json:"used"`
	Missing      int                  `json:"missing"`
	Flagged      []flaggedJSON        `json:"flagged"`
	Margin       marginJSON           `json:"margin"`
	Messages     []words.Message      `json:"messages"`
}

// marginJSON is how far below the prediction 5 % and 1 % of the values fell.
type marginJSON struct {
	Low5M float64 `json:"low_5_percent_m"`
	Low1M float64 `json:"low_1_percent_m"`
}

// places keeps as many decimals as mean something, and never −0.
func places(x float64, decimals int) float64 {
	p := math.Pow(10, float64(decimals))
	return math.Round(x*p)/p + 0
}

func analysisOf(r *tide.Analysis) analysisJSON {
	low5, low1 := r.Margin()
	j := analysisJSON{
		Contract: 1, Nodal: string(r.Nodal), Constituents: []constituentJSON{}, MeanM: places(r.MeanM, 6), MeanSEM: places(r.MeanSEM, 6),
		ResidualSDM: places(r.ResidualSDM, 6), Condition: places(r.Condition, 2), From: utcText(r.From), To: utcText(r.To), SpanDays: places(r.SpanDays, 3),
		Used: r.Used, Missing: r.Missing, Flagged: []flaggedJSON{}, Margin: marginJSON{places(low5, 4), places(low1, 4)}, Messages: messagesOf(r.Messages),
	}
	if !math.IsNaN(r.TrendMPerYear) {
		j.Trend = assay.Some(places(r.TrendMPerYear, 6))
	}
	for _, e := range r.Constituents {
		k := constituentJSON{
			Name: e.Name, Speed: places(e.SpeedDegPerH, 7), AmplitudeM: places(e.AmplitudeM, 6), AmplitudeSE: places(e.AmplitudeSEM, 6),
			PhaseDeg: math.Mod(places(e.PhaseDeg, 4), 360), PhaseSE: places(e.PhaseSEDeg, 4), Significant: e.Significant,
		}
		if e.InferredFrom != "" {
			k.InferredFrom = assay.Some(e.InferredFrom)
		}
		j.Constituents = append(j.Constituents, k)
	}
	for _, f := range r.Flagged {
		j.Flagged = append(j.Flagged, flaggedJSON{utcText(f.At), places(f.LevelM, 6), f.Slug})
	}
	return j
}

// flagsShown is how many lines left out are listed for people; JSON has all.
const flagsShown = 20

func (a *app) printAnalysis(r *tide.Analysis) {
	t := a.table(a.say("cmd.tide.col-name"), a.say("cmd.tide.col-amplitude"), "±", a.say("cmd.tide.col-lag"), "±", a.say("cmd.tide.col-sure"))
	for _, e := range r.Constituents {
		sure := ""
		switch {
		case e.InferredFrom != "":
			sure = a.say("cmd.tide.from", "name", e.InferredFrom)
		case e.Significant:
			sure = "*"
		}
		t.row(e.Name, words.Number(e.AmplitudeM, "3"), words.Number(e.AmplitudeSEM, "3"), words.Number(e.PhaseDeg, "1"), words.Number(e.PhaseSEDeg, "1"), sure)
	}
	t.print()
	a.print(a.out, a.say("cmd.tide.sure"))
	a.print(a.out, "")
	a.print(a.out, a.say("cmd.tide.lines", "used", r.Used, "missing", r.Missing, "flagged", len(r.Flagged), "mean", r.MeanM, "sd", r.ResidualSDM))
	for i, f := range r.Flagged {
		if i == flagsShown {
			a.print(a.out, a.say("cmd.tide.more", "n", len(r.Flagged)-i))
			break
		}
		a.print(a.out, "  "+utcText(f.At)+"  "+words.Number(f.LevelM, "3")+" m  "+a.say("tide.flag."+f.Slug))
	}
	low5, low1 := r.Margin()
	a.print(a.out, a.say("cmd.tide.margin", "five", -low5, "one", -low1))
	for _, m := range messagesOf(r.Messages) {
		a.print(a.out, m.In(a.lang))
	}
	a.print(a.out, a.say("tide.caution"))
}

// writeConstituents writes a file that predict reads, with what it must know of
// where they come from. A file that is there is never overwritten.
func writeConstituents(name string, r *tide.Analysis) error {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	g := func(x float64, n int) string { return strconv.FormatFloat(places(x, n), 'f', n, 64) }
	latitude := ""
	if r.Nodal == tide.Satellites {
		latitude = strconv.FormatFloat(r.LatitudeDeg, 'f', -1, 64)
	}
	_ = w.Write([]string{"name", "amplitude_m", "phase_deg", "amplitude_se_m", "phase_se_deg", "significant", "inferred_from", "nodal", "latitude", "record_from", "record_to"})
	line := func(name, amp, lag, ase, lse, sig, from string) {
		_ = w.Write([]string{name, amp, lag, ase, lse, sig, from, string(r.Nodal), latitude, r.From.Format(time.RFC3339), r.To.Format(time.RFC3339)})
	}
	line("Z0", g(r.MeanM, 6), "", g(r.MeanSEM, 6), "", "", "")
	for _, e := range r.Constituents {
		line(e.Name, g(e.AmplitudeM, 6), g(e.PhaseDeg, 4), g(e.AmplitudeSEM, 6), g(e.PhaseSEDeg, 4), strconv.FormatBool(e.Significant), e.InferredFrom)
	}
	w.Flush()
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if os.IsExist(err) {
		return &task.Refused{Slug: "tide.out-there", With: with("file", name)}
	}
	if err != nil {
		return err
	}
	_, err = f.Write(b.Bytes())
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	return err
}
