package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"soakline/internal/words"
)

// Every text in the program that looks like a slug of the catalogue stands in
// it: prefix, a full stop, and small letters. A slug that is put together from
// parts ends in a full stop or dash here; then the catalogue has some that begin so.
func TestSlugsInCodeExist(t *testing.T) {
	prefixes := map[string]bool{}
	for _, s := range words.Slugs("") {
		if head, _, ok := strings.Cut(s, "."); ok {
			prefixes[head] = true
		}
	}
	form := regexp.MustCompile(`^([a-z]+(?:-[a-z]+)*)\.[a-z0-9_.-]*$`)
	// File names, column names of a map and module paths look alike.
	notSlugs := regexp.MustCompile(`\.(csv|xlsx|ods|txt|toml|json|html|css|js|md|svg|png|pdf|logbook|xml|zip|go|sql|ts|log|lock|starting|db|csv\.gz|woff2|ttf)$`)
	seen := 0
	for _, top := range []string{"../../internal", "../../cmd"} {
		err := filepath.WalkDir(top, func(p string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(p, ".go") || strings.HasSuffix(p, "_test.go") {
				if d != nil && d.IsDir() && d.Name() == "testdata" {
					return fs.SkipDir
				}
				return err
			}
			files := token.NewFileSet()
			f, err := parser.ParseFile(files, p, nil, parser.SkipObjectResolution)
			if err != nil {
				return err
			}
			ast.Inspect(f, func(n ast.Node) bool {
				if _, isImport := n.(*ast.ImportSpec); isImport {
					return false
				}
				lit, ok := n.(*ast.BasicLit)
				if !ok || lit.Kind != token.STRING {
					return true
				}
				s, err := strconv.Unquote(lit.Value)
				m := form.FindStringSubmatch(s)
				if err != nil || m == nil || !prefixes[m[1]] || notSlugs.MatchString(s) {
					return true
				}
				seen++
				// A room may put its own name in front where it says them, and a verb
				// below a verb is named so.
				own := filepath.Base(filepath.Dir(p)) + "." + s
				if words.Has(s) || len(words.Slugs(s)) > 0 || len(words.Slugs(own)) > 0 || len(words.Slugs("cmd."+s+".")) > 0 {
					return true
				}
				t.Errorf("%s: %q is not in the catalogue", files.Position(lit.Pos()), s)
				return true
			})
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if seen < 300 {
		t.Errorf("only %d slugs were seen; the test looks in the wrong place", seen)
	}
}
