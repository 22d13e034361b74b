package task

import (
	"context"
	"strings"

	"soakline/internal/logbook"
	"soakline/internal/logbook/sqlite"
	"soakline/internal/words"
)

// Merged is what a merge did and what is still open.
type Merged struct {
	Records   int // that came in or took revisions
	Revisions int
	Sources   int
	Questions []MergeQuestion
}

// MergeQuestion is what two logbooks disagree on.
type MergeQuestion struct {
	Key     string   // answers come back by it
	Name    string   // of the record, as people know it
	Options []string // any other text is an answer to a question about a value
	logbook.Question
}

// Text is the question in words.
func (q MergeQuestion) Text(l words.Language) string {
	with := q.Params()
	with["kind"] = words.Ref{Slug: "task.kind." + q.Kind}
	if q.Slug != "logbook.ask-same-identity" { // there the two are told apart by their keys
		with["record"] = q.Name
	}
	return l.Say(q.Slug, with)
}

// Merge brings another logbook of the team into this one. What both changed is
// asked; with an answer to each, a second call takes the rest.
func Merge(ctx context.Context, book *logbook.Book, path string, answers map[string]string, by By) (*Merged, error) {
	other, err := sqlite.Foreign(ctx, path)
	if err != nil {
		return nil, err
	}
	defer other.Close()
	var report logbook.MergeReport
	named := names{of: map[string]string{}, holders: map[string]int{}}
	err = other.View(ctx, func(from *logbook.Tx) error {
		return book.Change(ctx, func(to *logbook.Tx) error {
			for _, tx := range []*logbook.Tx{from, to} {
				if err := named.add(tx); err != nil {
					return err
				}
			}
			report, err = to.Merge(from, nil, by.stamp())
			if err != nil || len(report.Questions) == 0 || len(answers) == 0 {
				return err
			}
			given, err := mergeAnswers(report.Questions, answers, named)
			if err != nil {
				return err
			}
			first := report
			report, err = to.Merge(from, given, by.stamp())
			report.Added += first.Added
			report.Revised += first.Revised
			report.Revisions += first.Revisions
			report.Sources += first.Sources
			return err
		})
	})
	if err != nil {
		return nil, err
	}
	m := &Merged{Records: report.Added + report.Revised, Revisions: report.Revisions, Sources: report.Sources}
	for _, q := range report.Questions {
		m.Questions = append(m.Questions, mergeQuestion(q, named))
	}
	return m, nil
}

// names are what people call the records of two logbooks, by key: a row by its
// identifier, an entry of a list by its kind and name.
type names struct {
	of      map[string]string
	holders map[string]int // how many records have a name
}

func (n names) add(tx *logbook.Tx) error {
	for _, kind := range []string{kindDeployment, kindSite, kindHabitat, kindProtocol} {
		for r, err := range tx.Records(kind) {
			if err != nil {
				return err
			}
			if _, known := n.of[r.Key]; known {
				continue
			}
			name := r.Fields["deployment_id"]
			if kind != kindDeployment {
				name = kind + ":" + r.Fields["code"]
			}
			n.of[r.Key] = name
			n.holders[name]++
		}
	}
	return nil
}

func mergeQuestion(q logbook.Question, named names) MergeQuestion {
	key, name := q.Record, q.Record
	if n := named.of[q.Record]; n != "" {
		name = n
		// The same identifier may stand in two teams or seasons; then only the key
		// tells which row an answer is about.
		if named.holders[n] == 1 || q.Slug == "logbook.ask-same-identity" {
			key = n
		}
	}
	m := MergeQuestion{Question: q, Key: key, Name: name}
	if q.Field != "" {
		m.Key += "." + q.Field
	}
	switch q.Slug {
	case "logbook.ask-withdrawn":
		m.Options = []string{string(logbook.Live), string(logbook.Withdrawn)}
	case "logbook.ask-redaction":
		m.Options = []string{"yes"}
	default:
		m.Options = []string{"ours", "theirs"}
	}
	return m
}

// mergeAnswers turns a person's answers into the logbook's; one that fits no
// question is refused.
func mergeAnswers(questions []logbook.Question, answers map[string]string, named names) (logbook.Answers, error) {
	given := logbook.Answers{}
	used := map[string]bool{}
	var keys []string
	for _, q := range questions {
		m := mergeQuestion(q, named)
		keys = append(keys, m.Key)
		a, ok := answers[m.Key]
		if !ok {
			continue
		}
		used[m.Key] = true
		if q.Slug == "logbook.ask-both-changed" {
			switch strings.TrimSpace(a) {
			case "ours":
				a = q.Ours
			case "theirs":
				a = q.Theirs
			}
		}
		given[q.Ask] = a
	}
	for k := range answers {
		if !used[k] {
			return nil, refuse("unknown-answer", "question", k, "questions", keys)
		}
	}
	return given, nil
}
