package demo

import (
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/text/encoding/charmap"
)

var espumaHabitats = map[string]string{seagrass: "pradera", sand: "arena", reef: "roca"}

var espumaHeadings = []string{
	"código", "programa", "equipo", "temporada", "sitio", "hábitat", "latitud", "longitud", "fecha de colocación", "hora de colocación", "cebos colocados", "lote de cebo",
	"fecha revisión 1", "hora revisión 1", "comidos nuevos revisión 1", "perdidos nuevos revisión 1",
	"fecha revisión 2", "hora revisión 2", "comidos nuevos revisión 2", "perdidos nuevos revisión 2",
	"profundidad mín (m)", "profundidad máx (m)", "temperatura (°C)", "observadores", "práctica", "notas",
}

// The lines above Espuma's table: two of title and a blank one, then the header.
const espumaFirst = 5

// espuma writes CSV with semicolons in Windows-1252: Spanish headings, decimal
// comma, day before month, date and time apart, counts new since the last check.
func (s *Season) espuma(c *crew, rows []*row) {
	t := newTable(filePrefix+"espuma.csv", espumaFirst, espumaHeadings...)
	for _, r := range rows {
		t.record(r, espumaCells(r))
	}
	s.habit(t, "latitud", "decimal-comma", ByReason)
	s.habit(t, "fecha de colocación", "day-first", ByReason)
	s.habit(t, "hora de colocación", "date-time-apart", ByReason)
	s.habit(t, "comidos nuevos revisión 2", "per-interval", ByReason)
	s.listSites(t, c)
	for _, h := range habitats {
		s.meant(t, "habitat", espumaHabitats[h], h)
	}
	edit := s.espumaSlips(t)
	s.oddities(t, "hora revisión 1", "hora revisión 2", "perdidos nuevos revisión 2", "cebos colocados")
	s.file(t.file, s.espumaBytes(c, t))
	if edit != nil {
		edit()
		s.edited = map[string][]byte{t.file: s.espumaBytes(c, t)}
	}
}

func (s *Season) espumaBytes(c *crew, t *table) []byte {
	text := csvBytes(t, [][]string{{"DATOS INVENTADOS / " + s.mark()}, {"Equipo " + c.name + ", hojas de campo pasadas a limpio"}, {}}, ';')
	out, err := charmap.Windows1252.NewEncoder().Bytes(text)
	if err != nil {
		panic("demo: a letter beyond Windows-1252: " + err.Error())
	}
	return out
}

func espumaCells(r *row) map[string]string {
	practice := "no"
	if r.IsPractice() {
		practice = "sí"
	}
	v := map[string]string{
		"código": r.ID, "programa": r.Programme, "equipo": r.Team, "temporada": r.Season, "sitio": r.Site, "hábitat": espumaHabitats[r.Habitat],
		"latitud": comma(r.Latitude.Or(0)), "longitud": comma(r.Longitude.Or(0)),
		"fecha de colocación": clock(r.SetOut, "02/01/2006"), "hora de colocación": clock(r.SetOut, "15:04"), "cebos colocados": strconv.Itoa(r.Baits), "lote de cebo": r.BaitBatch,
		"profundidad mín (m)": comma(r.DepthMinM.Or(0)), "profundidad máx (m)": comma(r.DepthMaxM.Or(0)), "temperatura (°C)": comma(r.TemperatureC.Or(0)),
		"observadores": r.Observers, "práctica": practice, "notas": r.Notes,
	}
	consumed, lost := 0, 0
	for k, c := range r.Checks {
		n := strconv.Itoa(k + 1)
		v["fecha revisión "+n], v["hora revisión "+n] = clock(c.At, "02/01/2006"), clock(c.At, "15:04")
		v["comidos nuevos revisión "+n] = strconv.Itoa(c.Consumed.Or(0) - consumed)
		v["perdidos nuevos revisión "+n] = strconv.Itoa(c.Lost.Or(0) - lost)
		consumed, lost = c.Consumed.Or(0), c.Lost.Or(0)
	}
	return v
}

// comma writes a number with the decimal comma.
func comma(x float64) string { return strings.Replace(number(x), ".", ",", 1) }

// espumaSlips plants the team's mistakes. edit mends the one cell that cannot
// be read, in the table itself; nil when the seed gave no place for it.
func (s *Season) espumaSlips(t *table) (edit func()) {
	if r := t.pick(2, func(r *row) bool { return r.site.name == "Cala Umbrera" }); r != nil {
		n := len(r.Site) - 2
		wrong := r.Site[:n] + r.Site[n+1:] + r.Site[n:n+1]
		s.mistake(t, r, "sitio", wrong+" ", "site-spelling", ByQuestion)
		s.meant(t, "site", wrong, r.Site)
	}
	// The letter l for the digit 1, as on an old typewriter.
	const key = "comidos nuevos revisión 2"
	if r := t.pick(6, func(r *row) bool { n := consumedBy(r, 2) - consumedBy(r, 1); return n >= 10 && n <= 19 }); r != nil {
		right := t.get(t.index[r], key)
		at := s.mistake(t, r, key, "l"+right[1:], "letter-for-digit", ByFault)
		s.answer(Answer{Step: Edit, File: at.File, Line: at.Line, Column: at.Column, DeploymentID: at.DeploymentID, Written: at.Written, Value: right, Why: "letter-for-digit"})
		edit = func() { t.put(t.index[r], key, right) }
	}
	if r := t.pick(11, func(r *row) bool { return strings.Contains(comma(r.TemperatureC.Or(0)), ",") }); r != nil {
		wrong := strings.Replace(comma(r.TemperatureC.Or(0)), ",", "", 1)
		at := s.mistake(t, r, "temperatura (°C)", wrong, "comma-forgotten", ByAsk)
		s.correct(at, "temperature_c", number(r.TemperatureC.Or(0)), "comma-forgotten")
	}
	if r := t.pick(14, anyRow); r != nil {
		r.marked = true
		copied := espumaCells(r)
		copied["código"] = fmt.Sprintf(r.crew.format, len(t.records)+1)
		line := t.line(len(t.lines))
		t.add(copied)
		s.plant(Planted{Kind: Mistake, What: "row-twice", File: t.file, Line: line, Column: "código", DeploymentID: copied["código"], Written: copied["código"], Right: r.ID, FoundBy: ByAsk})
		s.answer(Answer{Step: Withdraw, File: t.file, Line: line, DeploymentID: copied["código"], Why: "row-twice"})
	}
	return edit
}
