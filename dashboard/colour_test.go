package dashboard

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// luminance is the relative luminance of a colour "#rrggbb" as WCAG 2.2 defines it.
func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	n, err := strconv.ParseUint(hex[1:], 16, 32)
	require.NoError(t, err)
	sum := 0.0
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		c := float64(n>>(16-8*i)&0xff) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}

// contrast is the contrast ratio of WCAG 2.2.
func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	x, y := luminance(t, a), luminance(t, b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

func TestContrastFormula(t *testing.T) {
	assert.InDelta(t, 21, contrast(t, "#000000", "#ffffff"), 1e-9)   // WCAG 2.2: the largest there is
	assert.InDelta(t, 4.54, contrast(t, "#767676", "#ffffff"), 0.01) // the grey that is known as the lightest for text
}

// TestColoursCarry holds the two schemes to WCAG 2.2: 4.5:1 for text (1.4.3), 3:1 for shapes that say something (1.4.11).
func TestColoursCarry(t *testing.T) {
	css, err := files.ReadFile("static/dash.css")
	require.NoError(t, err)
	roots := regexp.MustCompile(`(?s):root \{(.*?)\}`).FindAllStringSubmatch(string(css), -1)
	require.GreaterOrEqual(t, len(roots), 2)
	pair := regexp.MustCompile(`--([a-z-]+): (#[0-9a-f]{6});`)
	for i, scheme := range []string{"light", "dark"} {
		colours := map[string]string{}
		for _, m := range pair.FindAllStringSubmatch(roots[i][1], -1) {
			colours[m[1]] = m[2]
		}
		for _, ground := range []string{"ground", "paper"} {
			for least, names := range map[float64]string{4.5: "ink muted plan act", 3: "air plan-fill hatch cake"} {
				for _, name := range strings.Fields(names) {
					require.NotEmpty(t, colours[name], "%s: --%s", scheme, name)
					assert.GreaterOrEqual(t, contrast(t, colours[name], colours[ground]), least, "%s: --%s on --%s", scheme, name, ground)
				}
			}
		}
		assert.GreaterOrEqual(t, contrast(t, colours["air"], colours["duct"]), 3.0, "%s: how far a channel is filled", scheme)
	}
}
