package task

import (
	"context"
	"sort"
	"strconv"
	"strings"

	"soakline/internal/gear"
	"soakline/internal/logbook"
	"soakline/internal/prep"
	"soakline/internal/words"
)

// PackLine is one line of a team's packing list.
type PackLine struct {
	Item  string // slug of a usual thing, or a text of the team's own
	Own   bool
	N     int  // to take along
	Count bool // counted in again
	Due   int  // how many are to come back
	Taken bool // ticked
	Back  int  // counted in; -1 while it is not
}

// Short is how many are not back; 0 while they are not counted.
func (l PackLine) Short() int {
	if !l.Count || l.Back < 0 {
		return 0
	}
	return max(0, l.Due-l.Back)
}

// PackList is the packing list of one team and day.
type PackList struct {
	Team, Day    string
	Rows, People int
	Work         prep.Day // what is done on the day
	SetBefore    int      // stakes whose return was counted before, and how many came back
	BackBefore   int
	Lines        []PackLine
	Kept         bool // ticked before
}

// Packing is the list of a team and a day: the rows of the logbook set or planned
// for it, or so many rows to set by the usual protocol where rows is above 0. What was
// ticked before comes along.
func Packing(ctx context.Context, book *logbook.Book, s *Season, team, day string, rows, people int) (p PackList, err error) {
	team, day = strings.TrimSpace(team), strings.TrimSpace(day)
	if _, ok := gear.Day(day); !ok {
		return p, refuse("pack-day", "given", day)
	}
	p = PackList{Team: team, Day: day, Rows: max(0, min(rows, 200)), People: max(0, min(people, 100))}
	err = book.View(ctx, func(tx *logbook.Tx) error {
		r, found, err := findCode(tx, kindPacking, team+"/"+day)
		if err != nil {
			return err
		}
		p.Kept = found
		if found && rows <= 0 {
			p.Rows = number(r.Fields["rows"])
		}
		if found && people <= 0 {
			p.People = number(r.Fields["people"])
		}
		kit, _, err := findCode(tx, kindKit, kitCode)
		if err != nil {
			return err
		}
		k, err := ReadKit(kit.Fields["text"])
		if err != nil {
			return err
		}
		p.fill(s, k, r.Fields)
		return nil
	})
	return p, err
}

func (p *PackList) fill(s *Season, kit prep.Kit, kept map[string]string) {
	if p.People == 0 {
		p.People = 2
	}
	day := prep.Day{RowsOut: p.Rows, StakesOut: p.Rows * s.usual().Baits}
	if p.Rows == 0 { // what the logbook has for the day
		if t, err := DayOf(s, nil, words.English, p.Team, p.Day, true); err == nil {
			day = t.Count
		}
	}
	day.People = p.People
	p.Work = day
	past := BeforeOf(s)
	p.SetBefore, p.BackBefore = past.StakesSet, past.StakesBack
	for i := range kit.Take {
		if kit.Take[i].Per == "stake" { // the spare is no less than what was lost before
			kit.Take[i].Spare = max(kit.Take[i].Spare, past.Past()["stakes"])
		}
	}
	for _, x := range prep.Packing(kit, day) {
		p.Lines = append(p.Lines, keptLine(PackLine{Item: x.Name, N: x.N, Due: x.Back, Count: x.Back >= 0}, kept, "line."))
	}
	var own []string
	for name := range kept {
		if item, ok := strings.CutPrefix(name, "own."); ok {
			own = append(own, item)
		}
	}
	sort.Strings(own)
	for _, item := range own {
		p.Lines = append(p.Lines, keptLine(PackLine{Item: item, Own: true, N: 1, Due: 1, Count: true}, kept, "own."))
	}
}

// keptLine reads what was ticked: "taken back", as "1 24" or "0 -".
func keptLine(l PackLine, kept map[string]string, prefix string) PackLine {
	l.Back = -1
	text := strings.Fields(kept[prefix+l.Item])
	if len(text) == 2 {
		l.Taken = text[0] == "1"
		if n, err := strconv.Atoi(text[1]); err == nil {
			l.Back = n
		}
	}
	return l
}

// KeepPacking keeps a packing list as it is ticked and counted in; own is a
// further thing to put on it, or empty.
func KeepPacking(ctx context.Context, book *logbook.Book, p PackList, own string, by By) error {
	fields := map[string]string{"team_name": p.Team, "day": p.Day, "rows": itoa(p.Rows), "people": itoa(p.People)}
	put := func(l PackLine) error {
		prefix, taken, back := "line.", "0", "-"
		if l.Own {
			prefix = "own."
		}
		if l.Taken {
			taken = "1"
		}
		if l.Back >= 0 {
			if l.Back > 100000 {
				return refuse("pack-count", "n", l.Back)
			}
			back = itoa(l.Back)
		}
		fields[prefix+l.Item] = taken + " " + back
		return nil
	}
	for _, l := range p.Lines {
		if err := put(l); err != nil {
			return err
		}
	}
	if own = strings.Join(strings.Fields(own), " "); own != "" {
		if len(own) > 80 {
			return refuse("pack-long")
		}
		if err := put(PackLine{Item: own, Own: true, Back: -1}); err != nil {
			return err
		}
	}
	return book.Change(ctx, func(tx *logbook.Tx) error {
		return putCode(tx, kindPacking, p.Team+"/"+p.Day, fields, by.stamp())
	})
}
