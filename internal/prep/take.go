package prep

// Take is one thing that a team takes along on a day, as a kit has it. Per says
// what it is counted by; N is how many for each, Spare the share on top.
type Take struct {
	Name  string  `toml:"name"`
	Per   string  `toml:"per"` // team, person, row, row-out, row-in, stake, stake-in
	N     float64 `toml:"n"`
	Spare float64 `toml:"spare"`
	Back  bool    `toml:"back"` // counted back in
}

// Day is what a team does on one day.
type Day struct {
	RowsOut   int // rows to set out
	StakesOut int // their stakes
	RowsRead  int // rows to visit without taking them out
	RowsIn    int // rows to read a last time and to take out
	StakesIn  int // their stakes, to come back
	People    int
}

// Packed is one line of a day's packing list.
type Packed struct {
	Name string `json:"item"`
	N    int    `json:"n"`
	// Back is how many are counted back in the evening: those taken along that
	// are used again; −1 for what is used up.
	Back int `json:"back"`
}

// The words of Take.Per, and what they count.
func (d Day) count(per string) (n int, known bool) {
	switch per {
	case "team":
		return min(1, d.RowsOut+d.RowsRead+d.RowsIn), true
	case "person":
		return d.People, true
	case "row-out":
		return d.RowsOut, true
	case "row-in":
		return d.RowsIn, true
	case "row":
		return d.RowsOut + d.RowsRead + d.RowsIn, true
	case "stake":
		return d.StakesOut, true
	case "stake-in":
		return d.StakesIn, true
	}
	return 0, false
}

// Packing is what a team takes along on a day, whole things rounded up; what
// the day has no use for is left out. Stakes to be taken out of the water are a
// line of their own that is only counted back.
func Packing(k Kit, d Day) []Packed {
	var out []Packed
	for _, t := range k.Take {
		n, _ := d.count(t.Per)
		if n == 0 {
			continue
		}
		line := Packed{Name: t.Name, N: int(up(float64(n) * t.N * (1 + t.Spare))), Back: -1}
		if t.Per == "stake-in" {
			line.N, line.Back = 0, line.N
		} else if t.Back {
			line.Back = line.N
		}
		out = append(out, line)
	}
	return out
}
