package words

import (
	"io/fs"
	"strings"
	"testing"

	"github.com/BurntSushi/toml"
	"pgregory.net/rapid"
)

func TestCatalogueIsWhole(t *testing.T) {
	if err := Check(); err != nil {
		for _, line := range strings.Split(err.Error(), "; ") {
			t.Error(line)
		}
	}
}

// TestEntries: what is read of each entry alone is what a reader of TOML finds
// in the whole file.
func TestEntries(t *testing.T) {
	for _, l := range Languages {
		c, err := open(l)
		if err != nil {
			t.Fatal(err)
		}
		names, err := fs.Glob(files, string(l)+"/*.toml")
		if err != nil {
			t.Fatal(err)
		}
		all := 0
		for _, name := range names {
			b, err := files.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			var whole map[string]string
			if err := toml.Unmarshal(b, &whole); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			for slug, want := range whole {
				if got, err := plain(slug, c.entries[slug]); err != nil || got != want {
					t.Errorf("%s: slug %s: %q, %v; want %q", name, slug, got, err, want)
				}
			}
			all += len(whole)
		}
		if len(c.entries) != all {
			t.Errorf("%s: %d entries, a reader of TOML finds %d", l, len(c.entries), all)
		}
	}
	for _, bad := range []string{`"a" = "b"` + "\n" + `"a" = "c"`, `a = "b"`, `"a" = """b`, "x"} {
		if err := (&catalogue{entries: map[string]string{}}).cut(bad); err == nil {
			t.Errorf("%q was taken", bad)
		}
	}
}

func TestSentence(t *testing.T) {
	for _, c := range []struct {
		sentence string
		with     P
		want     string
	}{
		{"{n|one bait|{n} baits} of {all}", P{"n": 1, "all": 25}, "one bait of 25"},
		{"{n|one bait|{n} baits} of {all}", P{"n": 0, "all": 25}, "0 baits of 25"},
		{"{x:2} and {p:%}, {{kept}}", P{"x": 1.005, "p": 0.42}, "1.00 and 42 %, {kept}"},
		{"at {place}", P{"place": []string{"a", "b", "c"}}, "at a, b and c"},
		{"{missing}", P{}, "⟨missing⟩"},
		{"{x:1}", P{"x": -0.01}, "0.0"},
		{"{x:1}", P{"x": -1.25}, "−1.2"},
		{"{x}", P{"x": 6.520794814728988e-07}, "6.521×10⁻⁷"},
		{"{x}", P{"x": -1.5e12}, "−1.5×10¹²"},
		{"{x}", P{"x": 0.00123456}, "0.001235"},
		{"{x}", P{"x": 123456.7}, "123457"},
		{"{x}", P{"x": 24.0}, "24"},
	} {
		parts, err := parse(c.sentence)
		if err != nil {
			t.Fatal(err)
		}
		var b strings.Builder
		English.write(&b, parts, c.with)
		if b.String() != c.want {
			t.Errorf("%s with %v = %q, want %q", c.sentence, c.with, b.String(), c.want)
		}
	}
	for _, bad := range []string{"{", "}", "{}", "{n|a}"} {
		if _, err := parse(bad); err == nil {
			t.Errorf("%q was taken as a sentence", bad)
		}
	}
}

func TestParseNeverPanics(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringOf(rapid.SampledFrom([]rune("{}|:%ab 2"))).Draw(t, "sentence")
		if parts, err := parse(s); err == nil {
			var b strings.Builder
			Pseudo.write(&b, parts, P{"a": 1, "b": 2.5})
		}
	})
}

func TestChoose(t *testing.T) {
	for tag, want := range map[string]Language{"es_MX.UTF-8": Spanish, "es": Spanish, "en-GB": English, "fr": English, "": English} {
		if got := Choose(tag); got != want {
			t.Errorf("Choose(%q) = %s, want %s", tag, got, want)
		}
	}
}

// A probability in a sentence: "p = 0.0123", and below what four decimals can
// say "p < 0.0001", never "p = <0.0001".
func TestProbability(t *testing.T) {
	for x, want := range map[float64]string{0.01234: "= 0.0123", 0.00004: "< 0.0001", 1: "= 1.0000"} {
		if got := Number(x, "P"); got != want {
			t.Errorf("%v: %q, want %q", x, got, want)
		}
	}
	for _, l := range Languages {
		c, err := catalogues[l]()
		if err != nil {
			t.Fatal(err)
		}
		for slug, s := range c.entries {
			if strings.Contains(s, ":p}") && strings.Contains(s, "= {") && strings.Contains(s[strings.Index(s, "= {"):], ":p}") && !strings.Contains(s, ":P}") {
				t.Errorf("%s in %s: write p {x:P}", slug, l)
			}
		}
	}
}
