package web

import (
	"sort"

	"soakline/internal/report"
	"soakline/internal/task"
	"soakline/internal/words"
)

func (v *answerView) rows(l words.Language, s *task.Season, c *computed) {
	for _, x := range c.rates.Deployments {
		d := &s.Deployments[x.Place]
		row := answerRow{Key: d.Key, ID: d.ID, Site: d.Site, Habitat: d.Habitat, Text: report.RowText(l, d)}
		if n := len(x.Checks); n > 0 {
			if p, ok := x.Checks[n-1].Proportion.Get(); ok {
				row.Share = words.Number(100*p, "0")
				row.Range = words.Number(100*x.Checks[n-1].Lower.Or(0), "0") + "–" + words.Number(100*x.Checks[n-1].Upper.Or(0), "0")
			}
		}
		v.Rows = append(v.Rows, row)
	}
	sort.SliceStable(v.Rows, func(i, j int) bool {
		if v.Rows[i].Habitat != v.Rows[j].Habitat {
			return v.Rows[i].Habitat < v.Rows[j].Habitat
		}
		return v.Rows[i].Site < v.Rows[j].Site
	})
	if n := len(v.Rows); n > shownAnswerRows {
		v.Rows = v.Rows[:shownAnswerRows]
		v.RowsMore = l.Say("web.answer.rows-more", words.P{"n": shownAnswerRows, "of": n})
	}
	keys := map[string]string{}
	for i := range s.Deployments {
		keys[s.Deployments[i].ID] = s.Deployments[i].Key
	}
	at := map[string]int{}
	add := func(id, slug string) {
		i, ok := at[slug]
		if !ok {
			i = len(v.LeftOut)
			at[slug] = i
			v.LeftOut = append(v.LeftOut, leftOut{Why: sentence(l.Say("left-out."+slug, nil))})
		}
		for _, have := range v.LeftOut[i].Rows {
			if have.ID == id {
				return
			}
		}
		v.LeftOut[i].Rows = append(v.LeftOut[i].Rows, questionItem{ID: id, Row: rowHref(keys[id])})
	}
	for _, e := range c.rates.Excluded {
		add(e.DeploymentID, e.Slug)
	}
	if c.compare != nil {
		for _, e := range c.compare.Excluded {
			add(e.DeploymentID, e.Slug)
		}
	}
}
