package main

import (
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// listed is what "go list -json" tells of one package.
type listed struct {
	ImportPath string
	Imports    []string
	Deps       []string
}

// TestImportsPointOneWay holds the house's direction: cmd → daemon → {hardware, dashboard} → internal.
func TestImportsPointOneWay(t *testing.T) {
	packages := listPackages(t)
	rules := []struct {
		of        string
		mayNotUse []string
	}{
		{"ductward/internal/", []string{"ductward/cmd", "ductward/daemon", "ductward/dashboard", "ductward/hardware"}},
		{"ductward/hardware", []string{"ductward/cmd", "ductward/daemon", "ductward/dashboard"}},
		{"ductward/dashboard", []string{"ductward/cmd", "ductward/daemon", "ductward/hardware"}},
		{"ductward/daemon", []string{"ductward/cmd"}},
		// The simulated truth shares no law with the model and the estimators that are tested on it.
		{"ductward/internal/plant", []string{"ductward/internal/duct", "ductward/internal/estimate"}},
		{"ductward/internal/duct", []string{"ductward/internal/plant"}},
		{"ductward/internal/estimate", []string{"ductward/internal/plant"}},
	}
	for _, r := range rules {
		seen := false
		for _, p := range packages {
			if !strings.HasPrefix(p.ImportPath+"/", strings.TrimSuffix(r.of, "/")+"/") {
				continue
			}
			seen = true
			for _, d := range p.Deps {
				for _, bad := range r.mayNotUse {
					assert.False(t, d == bad || strings.HasPrefix(d, bad+"/"), "%s imports %s, directly or not", p.ImportPath, d)
				}
			}
		}
		assert.True(t, seen, "no package under %s: is the rule out of date?", r.of)
	}
}

// TestCoreNeedsNoOutside holds the physics and the statistics to no files, no network and no clock of their own.
func TestCoreNeedsNoOutside(t *testing.T) {
	pure := map[string]bool{"ductward/internal/air": true, "ductward/internal/duct": true, "ductward/internal/estimate": true,
		"ductward/internal/detect": true, "ductward/internal/steady": true, "ductward/internal/plant": true,
		"ductward/internal/quantity": true, "ductward/internal/watch": true, "ductward/internal/verdict": true,
		"ductward/internal/accord": true, "ductward/internal/balance": true, "ductward/internal/compare": true}
	for _, p := range listPackages(t) {
		if !pure[p.ImportPath] {
			continue
		}
		for _, bad := range []string{"os", "net", "net/http", "os/exec", "io/ioutil", "go.etcd.io/bbolt"} {
			assert.NotContains(t, p.Imports, bad, "%s imports %s", p.ImportPath, bad)
		}
	}
}

func listPackages(t *testing.T) []listed {
	t.Helper()
	root, err := filepath.Abs("../..")
	require.NoError(t, err)
	cmd := exec.CommandContext(t.Context(), "go", "list", "-json=ImportPath,Imports,Deps", "./...")
	cmd.Dir = root
	out, err := cmd.Output()
	require.NoError(t, err)
	var packages []listed
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p listed
		err := d.Decode(&p)
		if errors.Is(err, io.EOF) {
			return packages
		}
		require.NoError(t, err)
		packages = append(packages, p)
	}
}
