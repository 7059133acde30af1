package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/dashboard"
)

func TestWhoMayWrite(t *testing.T) {
	file := filepath.Join(t.TempDir(), "password")
	require.NoError(t, os.WriteFile(file, []byte("walnut and beech\n"), 0o600))
	with := &dashboard.Gate{Password: "walnut and beech"}
	for _, c := range []struct {
		listen, file string
		want         *dashboard.Gate
	}{
		{"127.0.0.1:8137", "", nil},
		{"localhost:0", "", nil},
		{"[::1]:8137", "", nil},
		{"", "", nil},
		{"127.0.0.1:8137", file, with},
		{"192.168.1.20:8137", "", &dashboard.Gate{}},
		{":8137", "", &dashboard.Gate{}},
		{"0.0.0.0:8137", "", &dashboard.Gate{}},
		{"shop.example.org:8137", file, with},
	} {
		got, err := gateFor(c.listen, c.file)
		require.NoError(t, err)
		assert.Equal(t, c.want, got, "%q %q", c.listen, c.file)
	}
	t.Setenv(passwordEnv, "oak")
	_, err := gateFor("127.0.0.1:8137", "")
	require.ErrorContains(t, err, "10 letters")
	assert.NotContains(t, err.Error(), "oak")
	require.NoError(t, os.Chmod(file, 0o644))
	_, err = gateFor("127.0.0.1:8137", file)
	assert.ErrorContains(t, err, "chmod 600")
}
