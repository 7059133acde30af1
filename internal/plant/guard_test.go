package plant

import (
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const module = "ductward/"

// needs collects the module's packages that a package imports, directly or not, tests left out.
func needs(t *testing.T, pkg string, seen map[string]bool) {
	t.Helper()
	if seen[pkg] {
		return
	}
	seen[pkg] = true
	dir := filepath.Join("..", "..", filepath.FromSlash(strings.TrimPrefix(pkg, module)))
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	require.NoError(t, err)
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		src, err := os.ReadFile(f)
		require.NoError(t, err)
		parsed, err := parser.ParseFile(token.NewFileSet(), f, src, parser.ImportsOnly)
		require.NoError(t, err)
		for _, i := range parsed.Imports {
			path, err := strconv.Unquote(i.Path.Value)
			require.NoError(t, err)
			if strings.HasPrefix(path, module) {
				needs(t, path, seen)
			}
		}
	}
}

// TestThePlantSharesNothingWithTheModelThatItJudges: a simulator that shares the model it tests proves nothing.
func TestThePlantSharesNothingWithTheModelThatItJudges(t *testing.T) {
	seen := map[string]bool{}
	needs(t, module+"internal/plant", seen)
	allowed := map[string]bool{"internal/plant": true, "internal/air": true, "internal/quantity": true, "internal/shop": true}
	for pkg := range seen {
		assert.True(t, allowed[strings.TrimPrefix(pkg, module)], "internal/plant needs %s", pkg)
	}
	for _, judged := range []string{"internal/duct", "internal/estimate", "internal/detect"} {
		seen := map[string]bool{}
		needs(t, module+judged, seen)
		assert.False(t, seen[module+"internal/plant"], "%s needs internal/plant", judged)
	}
}
