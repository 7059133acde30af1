package shop

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestEveryKeyIsDocumented finds the keys that the reader asks for in its source, and expects each in the package
// comment.
func TestEveryKeyIsDocumented(t *testing.T) {
	doc, err := os.ReadFile("doc.go")
	require.NoError(t, err)
	documented := map[string]bool{}
	for _, w := range regexp.MustCompile(`[a-z_0-9]+`).FindAllString(string(doc), -1) {
		documented[w] = true
	}
	files, err := filepath.Glob("parse*.go")
	require.NoError(t, err)
	asked := regexp.MustCompile(`\.(?:get|has|word|name|oneOf|flag|count|number|quantity|duration|list|entries|unit|position)\("([a-z_0-9]+)"`)
	found := 0
	for _, f := range append(files, "materials.go", "leakage.go", "names.go", "contact.go", "bus.go") {
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		source, err := os.ReadFile(f)
		require.NoError(t, err)
		for _, m := range asked.FindAllStringSubmatch(string(source), -1) {
			found++
			require.True(t, documented[m[1]], "key %s, read in %s, is not in doc.go", m[1], f)
		}
	}
	require.Greater(t, found, 70)
	for _, w := range append(measuredWords(), fittingKeys...) {
		require.Contains(t, strings.ReplaceAll(string(doc), "\n// ", " "), w)
	}
}
