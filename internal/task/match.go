package task

import (
	"strconv"
	"time"

	"soakline/internal/assay"
	"soakline/internal/intake"
	"soakline/internal/logbook"
	"soakline/internal/sheet"
)

// match finds the record that a line of a file means: by identity, by what the
// same file called it before, or, asked, by site and time.
func (im *importing) match(name string, where assay.Place, v map[string]string) (key string, skip bool, err error) {
	r, found, err := im.identified(v)
	if err != nil {
		return "", false, err
	}
	if im.first && !found {
		return "", false, nil
	}
	if found {
		if first, twice := im.touched[r.Key]; twice {
			return im.twice(where, first, r, v)
		}
		return r.Key, false, nil
	}
	aliases, err := im.tx.FindAliases(name, v["deployment_id"])
	if err != nil {
		return "", false, err
	}
	for _, onlyLine := range []bool{false, true} {
		var fit []string
		for _, a := range aliases {
			if _, taken := im.touched[a.Record]; !taken && (!onlyLine || a.Line == where.Line) {
				fit = append(fit, a.Record)
			}
		}
		if len(fit) == 1 {
			return fit[0], false, nil
		}
	}
	return im.alike(where, v)
}

// identified finds the live record with the identity of v.
func (im *importing) identified(v map[string]string) (logbook.Record, bool, error) {
	id := logbook.IdentityOf(kindDeployment, v)
	if im.first {
		key, found := im.byIdentity[id]
		if !found {
			return logbook.Record{}, false, nil
		}
		r, err := im.tx.Record(key)
		return r, err == nil, err
	}
	return im.tx.FindIdentity(kindDeployment, id)
}

// twice asks about an identifier that stands on two lines of one import.
func (im *importing) twice(where assay.Place, first int, there logbook.Record, v map[string]string) (string, bool, error) {
	same := true
	for f, text := range v {
		same = same && there.Fields[f] == text
	}
	proposal := "another"
	if same {
		proposal = "same"
	}
	answer, err := im.ask(intake.Question{
		Key: "twice:" + v["deployment_id"] + ":" + strconv.Itoa(where.Line), Where: where, Proposal: proposal,
		Said:    assay.Said{Slug: "task.ask-twice", With: map[string]any{"id": v["deployment_id"], "first": first, "line": where.Line}},
		Options: []intake.Option{said("another"), said("same")},
		Why:     assay.Said{Slug: "task.because-" + proposal},
	})
	if err != nil || answer == "same" {
		return "", true, err
	}
	for n := 2; ; n++ {
		id := v["deployment_id"] + "-" + strconv.Itoa(n)
		w := map[string]string{"deployment_id": id}
		for _, f := range []string{"programme", "team", "season", "site"} {
			w[f] = v[f]
		}
		r, found, err := im.identified(w)
		if err != nil {
			return "", false, err
		}
		if _, touched := im.touched[r.Key]; !found || !touched {
			v["deployment_id"] = id
			return r.Key, false, nil
		}
	}
}

func said(option string) intake.Option {
	return intake.Option{Value: option, Said: assay.Said{Slug: "task.option-" + option}}
}

// alike asks whether a line means a row of the logbook set out at the same
// site at the same time under another identifier.
func (im *importing) alike(where assay.Place, v map[string]string) (string, bool, error) {
	if im.byTime == nil {
		im.byTime = map[string][]Entry{}
		err := live(im.tx, kindDeployment, func(r logbook.Record) error {
			if _, ours := im.touched[r.Key]; !ours {
				k := siteTime(r.Fields)
				im.byTime[k] = append(im.byTime[k], entryOf(r))
			}
			return nil
		})
		if err != nil {
			return "", false, err
		}
	}
	for _, e := range im.byTime[siteTime(v)] {
		if _, taken := im.touched[e.Record.Key]; taken || v["habitat"] != e.Deployment.Habitat || siteTime(v) == "" {
			continue
		}
		answer, err := im.ask(intake.Question{
			Key: "same-row:" + v["deployment_id"], Where: where, Proposal: "same",
			Said:    assay.Said{Slug: "task.ask-same-row", With: map[string]any{"id": v["deployment_id"], "other": e.Deployment.ID, "site": e.Deployment.Site}},
			Options: []intake.Option{said("same"), said("another")},
			Why:     assay.Said{Slug: "task.because-same-time"},
		})
		if err != nil {
			return "", false, err
		}
		if answer == "same" {
			v["deployment_id"] = e.Deployment.ID // an identifier is given once
			return e.Record.Key, false, nil
		}
	}
	return "", false, nil
}

func siteTime(v map[string]string) string {
	m, f := sheet.ParseMoment("deployed_at", v["deployed_at"])
	if f != nil || !m.Known() {
		return ""
	}
	return v["site"] + "\x1f" + m.At.Format(time.RFC3339)
}

// ask settles a question by its answer, by its proposal under Yes, or leaves
// it open; what it gives for an open one is the proposal, and nothing is kept.
func (im *importing) ask(q intake.Question) (string, error) {
	if a, ok := im.o.Answers[q.Key]; ok {
		for _, opt := range q.Options {
			if opt.Value == a {
				return a, nil
			}
		}
		return "", &FaultyFile{[]assay.FileError{{Place: q.Where,
			Wrong: assay.Said{Slug: "intake.answer-unknown", With: map[string]any{"value": a, "key": q.Key}},
			Do:    assay.Said{Slug: "intake.answer-choose", With: map[string]any{"known": []string{q.Options[0].Value, q.Options[1].Value}}}}}}
	}
	if im.o.Yes {
		im.taken = append(im.taken, intake.Taken{Question: q, Value: q.Proposal})
		return q.Proposal, nil
	}
	im.open = append(im.open, q)
	return q.Proposal, nil
}
