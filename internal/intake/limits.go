package intake

// Limits bound what a file may cost; they hold before and while it is parsed.
type Limits struct {
	FileBytes     int // of the file as it is
	ExpandedBytes int // of all parts of a workbook that are read, unpacked
	Entries       int // parts of a workbook
	Sheets        int // of one workbook
	Lines         int // of one table, counted to its last filled line
	Columns       int // of one table, counted to its last filled column
	Cells         int // filled or empty, of the whole file
	CellBytes     int // of one cell, in UTF-8
	TextBytes     int // of all cells together, in UTF-8
}

// DefaultLimits hold a season of any programme many times over (100,000
// deployments are some 20 MB of CSV) and keep a crafted file under 200 MB.
func DefaultLimits() Limits {
	return Limits{
		FileBytes: 64 << 20, ExpandedBytes: 128 << 20, Entries: 2000, Sheets: 200,
		Lines: 250_000, Columns: 256, Cells: 4_000_000, CellBytes: 32_767, TextBytes: 64 << 20,
	}
}

// Options are what a person may say about a file beforehand.
type Options struct {
	Limits   Limits // the zero value stands for DefaultLimits
	Encoding string // of a text file, as "windows-1250"; empty to find out
}

func (o Options) limits() Limits {
	if o.Limits == (Limits{}) {
		return DefaultLimits()
	}
	return o.Limits
}
