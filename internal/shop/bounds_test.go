package shop

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// TestHostileFilesAreRefusedAtOnce: what would take a careless reader all memory or time is refused with a reason.
func TestHostileFilesAreRefusedAtOnce(t *testing.T) {
	laughs := "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n"
	for i := 1; i < 12; i++ {
		laughs += fmt.Sprintf("a%d: &a%d [%s]\n", i, i, strings.TrimSuffix(strings.Repeat(fmt.Sprintf("*a%d, ", i-1), 10), ", "))
	}
	rows := []struct{ name, text, want string }{
		{"aliases of aliases", laughs, "more than 50000 values"},
		{"brackets", strings.Repeat("[", 50_000), "nested too deeply"},
		{"braces", strings.Repeat("{a: ", 15_000), "nested too deeply"},
		{"dashes", strings.Repeat("- ", 50_000) + "x", "nested too deeply"},
		{"question marks", strings.Repeat("? ", 50_000) + "x", "nested too deeply"},
		{"stairs", stairs(1000), "nested too deeply"},
		{"too many values", "shop: [" + strings.Repeat("a,", 60_000) + "]", "the limit is 60000"},
		{"too large", "#" + strings.Repeat("x", maxBytes), "the limit is 1048576"},
		{"not text", "shop: \xff\xfe", "not UTF-8"},
		{"a control character", "shop: a\x00b", "not UTF-8"},
		{"tags", "shop: " + strings.Repeat("!!str ", 25_000) + "x", ""},
		{"anchors", "shop: " + strings.Repeat("&a ", 25_000) + "x", ""},
		{"long text", "shop: " + strings.Repeat("x", 900_000), "has 900000 bytes"},
		{"a long name", "shop: " + strings.Repeat("x", 90), "letters, the limit is 60"},
		{"many lines", strings.Repeat("shop: x\n", 100_000), "the limit is 60000"},
		{"many keys", strings.Repeat("shop: x\n", 18_000), "more than 1000 keys"},
		{"many keys in braces", "{" + strings.Repeat("shop: x, ", 14_000) + "}", "more than 500 problems"},
		{"a long key", strings.Repeat("k", 500_000) + ": x", "unknown key"},
		{"many entries", "shop: [" + strings.Repeat("a, ", 29_000) + "]", "shop is a list"},
		{"a list in lines", strings.Repeat("- a\n", 29_000), "where keys are wanted"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			start := time.Now()
			s, problems := Parse("hostile.yaml", []byte(row.text))
			require.Nil(t, s)
			require.NotEmpty(t, problems)
			require.Contains(t, messages(problems), row.want)
			require.Less(t, time.Since(start), time.Minute, "a bound that only a runaway breaks")
			require.LessOrEqual(t, len(problems), maxProblems+1)
			for _, p := range problems {
				require.Less(t, len(p.Error()), 3000)
			}
		})
	}
}

func stairs(n int) string {
	var b strings.Builder
	for i := range n {
		b.WriteString(strings.Repeat(" ", i) + "a:\n")
	}
	return b.String()
}

func TestAliasesRepeatWhatWasWritten(t *testing.T) {
	text := `shop: Alias Joinery
collectors:
  - collector: a
    alarms: &alarms {leak_to_tell: 9 m3/h}
    sensors: &none []
  - {collector: b, alarms: *alarms, sensors: *none}
`
	s, problems := Parse("alias.yaml", []byte(text))
	require.Empty(t, problems, messages(problems))
	require.Equal(t, s.Collectors[0].Alarms, s.Collectors[1].Alarms)
	require.InDelta(t, 0.0025, s.Collectors[1].Alarms.LeakToTell, 1e-15)
}

// FuzzParse: no file makes the parser panic, and every file gives either a shop or a reason.
func FuzzParse(f *testing.F) {
	for _, pattern := range []string{badShops + "/*.yaml", goodShops + "/*.yaml", demoShop} {
		files, err := filepath.Glob(pattern)
		if err != nil {
			f.Fatal(err)
		}
		for _, file := range files {
			data, err := os.ReadFile(file)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s, problems := Parse("fuzz.yaml", data)
		if (s == nil) != (Errors(problems) != nil) {
			t.Fatalf("shop %v with problems %v", s != nil, problems)
		}
		lines := strings.Count(string(data), "\n") + 1
		for _, p := range problems {
			if p.Line < 1 || p.Line > lines || p.Column < 1 || len(p.Error()) > 5000 {
				t.Fatalf("%d:%d of %d lines: %.200s", p.Line, p.Column, lines, p.Error())
			}
		}
		if s == nil {
			return
		}
		for _, c := range s.Collectors {
			for _, m := range c.Machines {
				if _, err := c.SettingFor([]string{m.Name}); err != nil && c.Network != nil && !alwaysShut(c, m.Name) {
					t.Fatal(err)
				}
			}
		}
	})
}

func alwaysShut(c *Collector, machine string) bool {
	for _, g := range c.MachineGates(machine) {
		if p := c.Gate(g).Position; p != nil && p.Kind == SourceFixed && !p.Fixed {
			return true
		}
	}
	return false
}
