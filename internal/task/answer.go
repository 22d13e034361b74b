package task

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/quality"
)

// answersOf are the answers that a logbook keeps.
func answersOf(tx *logbook.Tx) (map[assay.AnswerKey]assay.Answer, error) {
	all := map[assay.AnswerKey]assay.Answer{}
	err := live(tx, kindAnswer, func(r logbook.Record) error {
		check, _ := strconv.Atoi(r.Fields["check"])
		all[assay.AnswerKey{Record: r.Fields["record"], Slug: r.Fields["slug"], Check: check, Field: r.Fields["field"]}] =
			assay.Answer{Fingerprint: r.Fields["fingerprint"], Text: r.Fields["text"]}
		return nil
	})
	return all, err
}

// Answer keeps what a person says to a question that a finding asks. It holds
// as long as the values it is about stay the same.
func Answer(ctx context.Context, book *logbook.Book, f assay.Finding, text string, by By) error {
	if strings.TrimSpace(text) == "" {
		return refuse("why-missing")
	}
	return book.Change(ctx, func(tx *logbook.Tx) error {
		k := quality.KeyOf(f)
		code := strings.Join([]string{k.Record, k.Slug, strconv.Itoa(k.Check), k.Field}, "/")
		return putCode(tx, kindAnswer, code, map[string]string{
			"record": k.Record, "slug": k.Slug, "check": strconv.Itoa(k.Check), "field": k.Field,
			"fingerprint": quality.Fingerprint(f), "text": strings.TrimSpace(text),
		}, by.stamp())
	})
}

// AnswerQuestion answers the open question that a person means by the row's id
// and the slug of the rule, of every check and column. It refuses an id that means
// several rows of which it is asked.
func AnswerQuestion(ctx context.Context, book *logbook.Book, id, slug, text string, by By) (n int, err error) {
	s, err := Of(ctx, book, by.When)
	if err != nil {
		return 0, err
	}
	var asked []assay.Finding
	for _, f := range s.Findings {
		if f.Severity == assay.Ask && f.Slug == slug && (f.DeploymentID == id || f.Key == id) && !f.Answered {
			asked = append(asked, f)
		}
	}
	if len(asked) == 0 {
		return 0, refuse("no-finding", "slug", slug, "id", id)
	}
	if slices.ContainsFunc(asked, func(f assay.Finding) bool { return f.Key != asked[0].Key }) {
		// Rows of several sites may have one name: an answer is given to one of them.
		if err := book.View(ctx, func(tx *logbook.Tx) error { _, err := one(tx, id, false); return err }); err != nil {
			return 0, err
		}
	}
	for n, f := range asked {
		if err := Answer(ctx, book, f, text, by); err != nil {
			return n, err
		}
	}
	return len(asked), nil
}
