package task

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"soakline/internal/compare"
	"soakline/internal/plan"
)

// A release holds the plan to the byte, says date and hash in README, EML and the
// head of model.R, and names one that was withdrawn without its text.
func TestPlanGoesWithTheRelease(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	book := bookOf(t, filepath.Join(dir, "a.logbook"), nil, on("2025-05-01"))
	k, _, err := KeepPlan(ctx, book, plan.Plan{Question: "reef or sand?"}, compare.Options{}, on("2025-06-01"))
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := KeepPlan(ctx, book, plan.Plan{}, compare.Options{Level: 0.9}, on("2025-06-02")); err != nil {
		t.Fatal(err)
	}
	if _, err := WithdrawPlan(ctx, book, "2025-06-02", false, on("2025-06-03")); err != nil {
		t.Fatal(err)
	}
	for _, v := range plannedRows() {
		if _, err := Add(ctx, book, v, on("2025-07-08")); err != nil {
			t.Fatal(err)
		}
	}
	m := openMetadata()
	m.Abstract, m.Publisher = "Invented.", "Larkwater (invented)"
	out := filepath.Join(dir, "open")
	if _, err := PublishBook(ctx, book, out, PublishOptions{Metadata: m, Today: on("2025-08-01").When}); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(out, "analysis-plan.txt"))
	if err != nil || string(text) != k.Text || plan.Hash(string(text)) != k.SHA256 {
		t.Errorf("%v: the plan is not published as it was hashed:\n%s", err, text)
	}
	if _, err := os.Stat(filepath.Join(out, "analysis-plan-2.txt")); err == nil {
		t.Error("a withdrawn plan's text is published")
	}
	for _, name := range []string{"README.md", "model.R", "archive.zip"} {
		b, err := os.ReadFile(filepath.Join(out, name))
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, part := range unpacked(b) {
			found = found || bytes.Contains(part, []byte("Analysis plan of 2025-06-01, kept before the first row was set out; SHA-256 of its text "+k.SHA256+"; text: analysis-plan.txt.")) &&
				bytes.Contains(part, []byte("withdrawn later: invented"))
		}
		if !found {
			t.Errorf("%s does not name the plans", name)
		}
	}
	// Files by themselves have no plans, and no line about them.
	s, err := Of(ctx, book, on("2025-08-01").When)
	if err != nil {
		t.Fatal(err)
	}
	s.Plans = nil
	if _, err := Publish(ctx, s, filepath.Join(dir, "bare"), PublishOptions{Metadata: m, Today: on("2025-08-01").When}); err != nil {
		t.Fatal(err)
	}
	if b, err := os.ReadFile(filepath.Join(dir, "bare", "README.md")); err != nil || strings.Contains(string(b), "plan") {
		t.Error("a publication without a plan speaks of one", err)
	}
}
