package shop

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "rewrite the expected messages of testdata/shops/bad")

const badShops = "../../testdata/shops/bad"

// TestEveryMistakeHasItsMessage reads each bad shop and compares all its messages with the expected ones beside it.
func TestEveryMistakeHasItsMessage(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(badShops, "*.yaml"))
	require.NoError(t, err)
	require.Greater(t, len(files), 30)
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			data, err := os.ReadFile(file)
			require.NoError(t, err)
			s, problems := Parse(filepath.Base(file), data)
			require.NotEmpty(t, problems)
			require.Equal(t, Errors(problems) == nil, s != nil, "a shop with warnings alone is usable")
			got := messages(problems)
			golden := strings.TrimSuffix(file, ".yaml") + ".want"
			if *update {
				require.NoError(t, os.WriteFile(golden, []byte(got), 0o644))
			}
			want, err := os.ReadFile(golden)
			require.NoError(t, err)
			require.Equal(t, string(want), got)
			checkPlaces(t, problems, string(data))
		})
	}
}

func messages(problems []Problem) string {
	var b strings.Builder
	for _, p := range problems {
		b.WriteString(p.Error() + "\n")
	}
	return b.String()
}

// checkPlaces: each problem points into the file, in order, and no message holds an error of a format.
func checkPlaces(t *testing.T, problems []Problem, text string) {
	lines := strings.Split(text, "\n")
	for i, p := range problems {
		require.NotContains(t, p.Error(), "%!")
		require.GreaterOrEqual(t, p.Line, 1, p.Error())
		require.LessOrEqual(t, p.Line, len(lines))
		require.GreaterOrEqual(t, p.Column, 1)
		require.LessOrEqual(t, p.Column, len([]rune(lines[p.Line-1]))+1)
		if i > 0 {
			require.GreaterOrEqual(t, p.Line, problems[i-1].Line)
		}
	}
}
