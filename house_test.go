package soakline

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// floors is the map of the house: a room imports rooms on lower floors only,
// and rooms on one floor do not know each other. docs/architecture.md says what
// each room is for.
var floors = [][]string{
	{"pattern"},
	{"assay", "words", "mixed", "place", "tide", "sun", "scan"},
	{"rates", "sheet", "prep", "visits", "logbook", "gear", "plan"},
	{"compare", "quality", "intake", "entry", "figure", "logbook/sqlite", "logbook/booktest"},
	{"demo", "leaf", "water", "methods", "fitness"},
	{"report", "paper", "publish"},
	{"task"},
	{"web"},
	{"desktop"},
}

// testRooms are imported by tests only, from any floor.
var testRooms = []string{"outside"}

// exceptions are the two imports that a floor may make sideways: a store is
// wired where it is opened, and the suite of all stores runs in the room of one.
var exceptions = map[string][]string{
	"logbook/sqlite (test)": {"logbook/booktest"},
}

func TestFloors(t *testing.T) {
	floor := map[string]int{}
	for i, rooms := range floors {
		for _, r := range rooms {
			floor[r] = i
		}
	}
	eachImport(t, func(file, room, imported string, test bool) {
		if test && (slices.Contains(testRooms, imported) || imported == room) {
			return
		}
		if slices.Contains(testRooms, room) {
			return
		}
		f, known := floor[room]
		g, knownToo := floor[imported]
		switch {
		case !known:
			t.Errorf("%s: room %s has no floor; give it one in house_test.go and docs/architecture.md", file, room)
		case !knownToo:
			t.Errorf("%s: room %s has no floor or is for tests only", file, imported)
		case test && slices.Contains(exceptions[room+" (test)"], imported):
		case g >= f:
			t.Errorf("%s: room %s on floor %d imports %s on floor %d; only lower floors may be imported", file, room, f, imported, g)
		}
	})
}

// eachImport calls f for every import of a room of ours in a room of ours.
func eachImport(t *testing.T, f func(file, room, imported string, test bool)) {
	t.Helper()
	err := filepath.WalkDir("internal", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(p, ".go") {
			if d != nil && d.IsDir() && d.Name() == "testdata" {
				return fs.SkipDir
			}
			return err
		}
		room := roomOf(path.Dir(filepath.ToSlash(p)))
		src, err := parser.ParseFile(token.NewFileSet(), p, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, i := range src.Imports {
			name, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				return err
			}
			if rest, ours := strings.CutPrefix(name, "soakline/"); ours {
				if imported := roomOf(rest); imported != room {
					f(p, room, imported, strings.HasSuffix(p, "_test.go"))
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// roomOf is the room a package belongs to: a package below a room is part of
// it, but the stores of the logbook are rooms of their own.
func roomOf(dir string) string {
	rest := strings.TrimPrefix(dir, "internal/")
	for _, rooms := range floors {
		if slices.Contains(rooms, rest) {
			return rest
		}
	}
	room, _, _ := strings.Cut(rest, "/")
	return room
}

func TestEveryRoomIsDescribed(t *testing.T) {
	text := read(t, "docs/architecture.md")
	for _, rooms := range floors {
		for _, r := range rooms {
			if _, err := os.Stat(filepath.Join("internal", r)); err != nil {
				t.Errorf("room %s stands on a floor but does not exist", r)
			}
			if !strings.Contains(text, "`"+r+"`") {
				t.Errorf("docs/architecture.md does not say what room %s is for", r)
			}
		}
	}
}

// TestDependenciesHaveReasons: every direct dependency stands with its reason
// in docs/architecture.md, and nothing else is listed there.
func TestDependenciesHaveReasons(t *testing.T) {
	text := read(t, "docs/architecture.md")
	_, table, ok := strings.Cut(text, "## What it builds on")
	if !ok {
		t.Fatal("docs/architecture.md has no section \"What it builds on\"")
	}
	if i := strings.Index(table, "\n## "); i >= 0 {
		table = table[:i]
	}
	var direct []string
	for _, line := range strings.Split(read(t, "go.mod"), "\n") {
		if m := regexp.MustCompile(`^\s*(?:require )?([a-z0-9.-]+\.[a-z]+/\S+|[a-z.]+\.[a-z]+/\S+) v\S+$`).FindStringSubmatch(line); m != nil {
			direct = append(direct, m[1])
		}
	}
	if len(direct) < 5 {
		t.Fatalf("go.mod gives only %v", direct)
	}
	listed := regexp.MustCompile("(?m)^\\| `([^`]+)` \\|[^|]+\\|.*[a-z].*\\|$").FindAllStringSubmatch(table, -1)
	var names []string
	for _, m := range listed {
		names = append(names, m[1])
	}
	for _, d := range direct {
		if !slices.Contains(names, d) {
			t.Errorf("%s is a direct dependency without its reason in docs/architecture.md", d)
		}
	}
	for _, n := range names {
		if !slices.Contains(direct, n) {
			t.Errorf("docs/architecture.md gives a reason for %s, which go.mod does not require directly", n)
		}
	}
}

// TestNothingOfThisMachine: no absolute path of somebody's machine is tracked.
func TestNothingOfThisMachine(t *testing.T) {
	out, err := exec.Command("git", "ls-files").Output()
	if err != nil {
		t.Skip("not a git checkout: nothing is tracked here")
	}
	bad := regexp.MustCompile(`(^|[^A-Za-z0-9_.:/])/(work|root|home/[a-z]+)/`)
	for _, name := range strings.Fields(string(out)) {
		switch filepath.Ext(name) {
		case ".go", ".md", ".toml", ".ts", ".js", ".css", ".html", ".R", ".sh", ".yml", ".json", ".csv":
		default:
			continue
		}
		b, err := os.ReadFile(name)
		if err == nil && bad.Match(b) {
			t.Errorf("%s holds an absolute path: %q", name, bad.Find(b))
		}
	}
}

func read(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// TestPatterns: every pattern of the program compiles. They are compiled when
// first used, so that a fault in one would show only then.
func TestPatterns(t *testing.T) {
	found := 0
	for _, root := range []string{"internal", "cmd"} {
		err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
			if err != nil || !d.IsDir() {
				return err
			}
			sources, err := filepath.Glob(filepath.Join(name, "*.go"))
			if err != nil {
				return err
			}
			var room []*ast.File
			for _, source := range sources {
				file, err := parser.ParseFile(token.NewFileSet(), source, nil, 0)
				if err != nil {
					return err
				}
				room = append(room, file)
			}
			found += compileAll(t, name, room)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if found < 40 {
		t.Errorf("%d patterns found; more are known", found)
	}
}

// compileAll compiles what a package gives to pattern.New, and counts it: texts,
// and constants of the package, joined.
func compileAll(t *testing.T, name string, room []*ast.File) (found int) {
	each := func(f func(ast.Node)) {
		for _, file := range room {
			ast.Inspect(file, func(n ast.Node) bool { f(n); return true })
		}
	}
	constants := map[string]string{}
	var text func(ast.Expr) string
	text = func(e ast.Expr) string {
		switch e := e.(type) {
		case *ast.BasicLit:
			s, err := strconv.Unquote(e.Value)
			if err != nil {
				t.Errorf("%s: %v", e.Value, err)
			}
			return s
		case *ast.BinaryExpr:
			return text(e.X) + text(e.Y)
		case *ast.Ident:
			if s, ok := constants[e.Name]; ok {
				return s
			}
		}
		t.Errorf("%s: a pattern made of %T is not looked at", name, e)
		return ""
	}
	each(func(n ast.Node) {
		if v, ok := n.(*ast.ValueSpec); ok && len(v.Values) == 1 {
			if l, ok := v.Values[0].(*ast.BasicLit); ok && l.Kind == token.STRING {
				constants[v.Names[0].Name] = text(l)
			}
		}
	})
	each(func(n ast.Node) {
		call, ok := n.(*ast.CallExpr)
		if !ok {
			return
		}
		if s, ok := call.Fun.(*ast.SelectorExpr); ok && s.Sel.Name == "New" {
			if x, ok := s.X.(*ast.Ident); ok && x.Name == "pattern" {
				found++
				if _, err := regexp.Compile(text(call.Args[0])); err != nil {
					t.Errorf("%s: %v", name, err)
				}
			}
		}
	})
	return found
}
