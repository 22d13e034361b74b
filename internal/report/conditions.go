package report

import "soakline/internal/assay"

// Conditions puts what was worked out of tide, light and loggers into two tidy
// tables, one line a row and one line a check: rowNames and checkNames are their
// columns, of which those without any value are left out. No table without a value.
func Conditions(ds []assay.Deployment, rowNames, checkNames []string) []Table {
	seen, seenCheck := map[string]bool{}, map[string]bool{}
	for i := range ds {
		for n := range ds[i].Derived {
			seen[n] = true
		}
		for _, c := range ds[i].Checks {
			for n := range c.Derived {
				seenCheck[n] = true
			}
		}
	}
	rowNames, checkNames = only(rowNames, seen), only(checkNames, seenCheck)
	var out []Table
	if len(rowNames) > 0 {
		t := Table{Name: "conditions", Columns: columns(append([]string{"deployment_id", "site", "habitat"}, rowNames...)...)}
		for i := range ds {
			d := &ds[i]
			t.Lines = append(t.Lines, append([]any{d.ID, d.Site, d.Habitat}, valuesOf(d.Derived, rowNames)...))
		}
		out = append(out, t)
	}
	if len(checkNames) > 0 {
		t := Table{Name: "check_conditions", Columns: columns(append([]string{"deployment_id", "site", "habitat", "check"}, checkNames...)...)}
		for i := range ds {
			d := &ds[i]
			for _, c := range d.Checks {
				t.Lines = append(t.Lines, append([]any{d.ID, d.Site, d.Habitat, c.Number}, valuesOf(c.Derived, checkNames)...))
			}
		}
		out = append(out, t)
	}
	return out
}

// only keeps the names that were seen, in their order.
func only(names []string, seen map[string]bool) (list []string) {
	for _, n := range names {
		if seen[n] {
			list = append(list, n)
		}
	}
	return list
}

func valuesOf(m map[string]float64, names []string) []any {
	out := make([]any, len(names))
	for i, n := range names {
		if x, ok := m[n]; ok {
			out[i] = x
		}
	}
	return out
}
