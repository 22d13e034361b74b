package demo

import (
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"soakline/internal/sheet"
)

// book writes a workbook. Its failures are slips of this package: the content
// is our own, so they panic with its name.
type book struct {
	f    *excelize.File
	date int // style of a date cell
	head int // style of a heading
}

func (b *book) check(err error) {
	if err != nil {
		panic("demo: workbook: " + err.Error())
	}
}

func cellName(col, line int) string {
	name, err := excelize.CoordinatesToCellName(col, line)
	if err != nil {
		panic("demo: workbook: " + err.Error())
	}
	return name
}

func (b *book) put(sheet string, col, line int, v any) {
	if v != "" {
		b.check(b.f.SetCellValue(sheet, cellName(col, line), v))
	}
}

func (b *book) styles() {
	if b.date != 0 {
		return
	}
	format := "dd/mm/yyyy hh:mm"
	var err error
	b.date, err = b.f.NewStyle(&excelize.Style{CustomNumFmt: &format})
	b.check(err)
	b.head, err = b.f.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: &excelize.Alignment{Horizontal: "center"}})
	b.check(err)
}

// sheet writes one site's sheet: title, header of two lines with merged cells,
// the lines, a blank one and the totals.
func (b *book) sheet(t *table, title string) {
	b.styles()
	_, err := b.f.NewSheet(t.sheet)
	b.check(err)
	b.put(t.sheet, 1, 1, title)
	from := 0
	for i, c := range t.columns {
		if i == 0 || c.over != t.columns[i-1].over {
			from = i
			b.put(t.sheet, i+1, mareaHeader, c.over)
		}
		if last := i == len(t.columns)-1 || t.columns[i+1].over != c.over; last && i > from {
			b.check(b.f.MergeCell(t.sheet, cellName(from+1, mareaHeader), cellName(i+1, mareaHeader)))
		}
		b.put(t.sheet, i+1, mareaHeader+1, c.text)
	}
	b.check(b.f.SetCellStyle(t.sheet, cellName(1, mareaHeader), cellName(len(t.columns), mareaHeader+1), b.head))
	for i, line := range t.lines {
		for j, text := range line {
			b.typed(t, j, t.line(i), text)
		}
	}
	b.totals(t)
	b.check(b.f.SetColWidth(t.sheet, "A", "U", 12))
	b.check(b.f.SetColWidth(t.sheet, "F", "F", 17))
}

// typed writes a text as a spreadsheet program keeps what a person types there:
// a date as its serial number, a number as a number. One count of the first
// sheet stays text, as after pasting.
func (b *book) typed(t *table, col, line int, text string) {
	key := t.columns[col].key
	if at, err := time.Parse(time.DateTime, text); err == nil {
		b.put(t.sheet, col+1, line, at)
		b.check(b.f.SetCellStyle(t.sheet, cellName(col+1, line), cellName(col+1, line), b.date))
		return
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || key == "season" || key == "left1" && line == t.firstLine+2 {
		b.put(t.sheet, col+1, line, text)
		return
	}
	b.put(t.sheet, col+1, line, x)
}

func (b *book) totals(t *table) {
	line := t.line(len(t.lines)) + 1
	b.put(t.sheet, 1, line, "Total")
	for col, c := range t.columns {
		if c.key != "baits" && !strings.HasPrefix(c.key, "left") && !strings.HasPrefix(c.key, "lost") {
			continue
		}
		sum := 0
		for i := range t.lines {
			n, err := strconv.Atoi(t.lines[i][col])
			b.check(err)
			sum += n
		}
		b.put(t.sheet, col+1, line, sum)
	}
}

// bytes writes the workbook so that one season is one file of bytes.
func (b *book) bytes() []byte {
	out, err := sheet.WorkbookBytes(b.f)
	b.check(err)
	b.check(b.f.Close())
	return out
}
