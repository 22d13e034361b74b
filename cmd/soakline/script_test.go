package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/xuri/excelize/v2"
)

// TestMain lets the test binary be the command, so that scripts run the whole
// program: arguments, signals, exit code.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"soakline": main})
}

// TestScript runs testdata/script/*.txtar, one script for each behaviour of a
// verb. Beside the usual commands of testscript there are:
//
//	json PATH TEXT        the value at PATH in stdout, as JSON, is TEXT
//	near PATH NUMBER TOL  the number at PATH in stdout is within TOL of NUMBER
//	damage FILE           turns the bits of some bytes in the middle of a file
//	xlsx FILE NAME=CSV…   makes a workbook of CSV files
func TestScript(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("SOAKLINE_LANG", "en")
			e.Setenv("NO_COLOR", "1")
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"json": scriptJSON, "near": scriptNear, "damage": scriptDamage, "xlsx": scriptXLSX,
		},
	})
}

// at walks a decoded JSON value along a path such as deployments.0.site; a
// final len is the number of entries.
func at(v any, path string) (any, error) {
	for _, step := range strings.Split(path, ".") {
		switch x := v.(type) {
		case map[string]any:
			if step == "len" {
				v = float64(len(x))
				continue
			}
			next, ok := x[step]
			if !ok {
				return nil, fmt.Errorf("no %s of %s", step, path)
			}
			v = next
		case []any:
			if step == "len" {
				v = float64(len(x))
				continue
			}
			i, err := strconv.Atoi(step)
			if err != nil || i < 0 || i >= len(x) {
				return nil, fmt.Errorf("no %s of %s", step, path)
			}
			v = x[i]
		default:
			return nil, fmt.Errorf("%s is below a plain value", path)
		}
	}
	return v, nil
}

func inStdout(ts *testscript.TestScript, path string) any {
	var v any
	ts.Check(json.Unmarshal([]byte(ts.ReadFile("stdout")), &v))
	x, err := at(v, path)
	ts.Check(err)
	return x
}

func scriptJSON(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("json PATH TEXT")
	}
	b, err := json.Marshal(inStdout(ts, args[0]))
	ts.Check(err)
	if (string(b) == args[1]) == neg {
		ts.Fatalf("%s is %s, want %s", args[0], b, args[1])
	}
}

func scriptNear(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 3 || neg {
		ts.Fatalf("near PATH NUMBER TOLERANCE")
	}
	want, err := strconv.ParseFloat(args[1], 64)
	ts.Check(err)
	tol, err := strconv.ParseFloat(args[2], 64)
	ts.Check(err)
	got, ok := inStdout(ts, args[0]).(float64)
	if !ok || !(math.Abs(got-want) <= tol) {
		ts.Fatalf("%s is %v, want %s ± %s", args[0], inStdout(ts, args[0]), args[1], args[2])
	}
}

func scriptDamage(ts *testscript.TestScript, neg bool, args []string) {
	file := ts.MkAbs(args[0])
	b, err := os.ReadFile(file)
	ts.Check(err)
	for i := len(b) / 4; i < len(b)*3/4; i++ {
		b[i] ^= 0x55
	}
	ts.Check(os.WriteFile(file, b, 0o644))
}

// scriptXLSX makes a workbook: each further argument is SHEET=FILE.csv.
func scriptXLSX(ts *testscript.TestScript, neg bool, args []string) {
	var names []string
	var tables [][][]string
	for _, a := range args[1:] {
		name, file, _ := strings.Cut(a, "=")
		names = append(names, name)
		var t [][]string
		for _, line := range strings.Split(strings.TrimSpace(ts.ReadFile(file)), "\n") {
			t = append(t, strings.Split(line, ","))
		}
		tables = append(tables, t)
	}
	b, err := workbook(names, tables)
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), b, 0o644))
}

// call runs the program inside the test and gives what it printed.
func call(t *testing.T, args ...string) (code int, out, errs string) {
	t.Helper()
	t.Setenv("SOAKLINE_LANG", "en")
	var o, e bytes.Buffer
	code = run(args, strings.NewReader(""), &o, &e)
	return code, o.String(), e.String()
}

// workbook is an XLSX file of sheets with text cells, as people type them.
func workbook(names []string, tables [][][]string) ([]byte, error) {
	f := excelize.NewFile()
	defer f.Close()
	for i, name := range names {
		if i == 0 {
			if err := f.SetSheetName("Sheet1", name); err != nil {
				return nil, err
			}
		} else if _, err := f.NewSheet(name); err != nil {
			return nil, err
		}
		for r, line := range tables[i] {
			for c, cell := range line {
				where, err := excelize.CoordinatesToCellName(c+1, r+1)
				if err != nil {
					return nil, err
				}
				if err := f.SetCellStr(name, where, cell); err != nil {
					return nil, err
				}
			}
		}
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
