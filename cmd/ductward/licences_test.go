package main

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// licences are those that may be in what we give away or test with, by their SPDX names.
var licences = []string{"MIT", "Apache-2.0", "BSD-3-Clause", "BSD-2-Clause", "EPL-2.0 OR BSD-3-Clause", "MIT AND Apache-2.0", "MPL-2.0"}

// TestEveryDependencysLicenceIsListed holds the table for developers against go.mod and the folder of what is not ours.
func TestEveryDependencysLicenceIsListed(t *testing.T) {
	read := func(path string) string {
		raw, err := os.ReadFile(filepath.Join("..", "..", path))
		require.NoError(t, err)
		return string(raw)
	}
	var used, listed []string
	for _, m := range regexp.MustCompile(`(?m)^\t(\S+) v\S+`).FindAllStringSubmatch(read("go.mod"), -1) {
		used = append(used, m[1])
	}
	folders, err := os.ReadDir("../../dashboard/third_party")
	require.NoError(t, err)
	for _, f := range folders {
		used = append(used, "dashboard/third_party/"+f.Name())
		assert.FileExists(t, filepath.Join("../../dashboard/third_party", f.Name(), "LICENSE"))
	}
	for _, row := range regexp.MustCompile("(?m)^\\| `([^`]+)` \\| ([^|]+) \\| (the program|tests and tools)").FindAllStringSubmatch(read("DEVELOPERS.md"), -1) {
		listed = append(listed, row[1])
		assert.Contains(t, licences, row[2], row[1])
	}
	slices.Sort(used)
	slices.Sort(listed)
	assert.Equal(t, used, listed, "the section \"Licences of what is used\" of DEVELOPERS.md lists what go.mod names, and nothing else")
	assert.Greater(t, len(used), 20)
}
