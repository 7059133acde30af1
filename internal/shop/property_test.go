package shop

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// TestEveryMistakeIsToldInOnePass spoils any set of lines of the demo's shop, each in its own way, and expects exactly
// those lines in the problems.
func TestEveryMistakeIsToldInOnePass(t *testing.T) {
	data, err := os.ReadFile(demoShop)
	require.NoError(t, err)
	lines := strings.Split(string(data), "\n")
	spoils := []struct {
		find    *regexp.Regexp
		replace string
	}{
		{regexp.MustCompile(`^( +diameter: \d+) mm$`), "$1"},
		{regexp.MustCompile(`^( +length: [0-9.]+) m$`), "$1 kg"},
		{regexp.MustCompile(`^( +material: flexible) hose$`), "$1 hoze"},
		{regexp.MustCompile(`^( +)tightness: B$`), "${1}tigthness: B"},
		{regexp.MustCompile(`^( +- \{elbow: 90 deg, make: smooth, )radius: 1.5`), "${1}radius: 0.1"},
	}
	var can []int // lines that can be spoilt
	how := map[int]int{}
	for i, l := range lines {
		for k, s := range spoils {
			if s.find.MatchString(l) {
				can, how[i] = append(can, i), k
			}
		}
	}
	require.Greater(t, len(can), 60)
	rapid.Check(t, func(t *rapid.T) {
		pick := rapid.SliceOfNDistinct(rapid.SampledFrom(can), 1, 30, rapid.ID[int]).Draw(t, "lines")
		spoilt := append([]string(nil), lines...)
		want := map[int]bool{}
		for _, i := range pick {
			s := spoils[how[i]]
			spoilt[i] = s.find.ReplaceAllString(lines[i], s.replace)
			want[i+1] = true
		}
		_, problems := Parse("shop.yaml", []byte(strings.Join(spoilt, "\n")))
		got := map[int]bool{}
		for _, p := range problems {
			got[p.Line] = true
		}
		require.Equal(t, want, got, messages(problems))
	})
}

// TestAnyLineMayBeMissing: without any one line, or with any one line twice, the file gives a shop or reasons that point
// into the file.
func TestAnyLineMayBeMissing(t *testing.T) {
	data, err := os.ReadFile(demoShop)
	require.NoError(t, err)
	lines := strings.Split(string(data), "\n")
	for i := range lines {
		for _, twice := range []bool{false, true} {
			changed := append([]string(nil), lines[:i]...)
			if twice {
				changed = append(changed, lines[i], lines[i])
			}
			text := strings.Join(append(changed, lines[i+1:]...), "\n")
			s, problems := Parse("shop.yaml", []byte(text))
			require.Equal(t, s == nil, Errors(problems) != nil)
			checkPlaces(t, problems, text)
		}
	}
}
