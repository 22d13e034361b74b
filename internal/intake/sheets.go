package intake

// Sheet is one sheet of a workbook as it lies, for a workbook whose layout is
// known beforehand; nothing in it is taken for a heading.
type Sheet struct {
	Name string
	g    *grid
}

// Sheets reads the sheets of a workbook within the limits, hidden ones too.
func Sheets(name string, data []byte, o Options) ([]Sheet, []Fault) {
	b := &budget{Limits: o.limits()}
	if len(data) > b.FileBytes {
		return nil, []Fault{{Wrong: said("intake.file-too-large", "mb", len(data)>>20, "most", b.FileBytes>>20), Do: said("intake.split-file")}}
	}
	k, err := openBook(data, b)
	if err != nil {
		return nil, []Fault{*limitFault(name, "", err)}
	}
	var out []Sheet
	for i, s := range k.sheets {
		g, err := k.read(i, b)
		if err != nil {
			return nil, []Fault{*limitFault(name, s.name, err)}
		}
		out = append(out, Sheet{s.name, g})
	}
	return out, nil
}

// Len is the number of lines with anything in them.
func (s Sheet) Len() int { return len(s.g.lines) }

// Line is the number of line i as a spreadsheet counts.
func (s Sheet) Line(i int) int { return int(s.g.lines[i].number) }

// Cells are the texts of line i, empty ones at its end left out.
func (s Sheet) Cells(i int) []string {
	out := make([]string, s.g.lines[i].cells)
	for c := range out {
		out[c], _ = s.g.cell(i, c)
	}
	return out
}
