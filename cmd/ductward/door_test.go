package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/access"
)

// command runs one command line with what is typed into it.
func command(typed string, args ...string) (code int, out string) {
	var b strings.Builder
	code = run(context.Background(), args, strings.NewReader(typed), &b, &b)
	return code, b.String()
}

func TestAPasswordIsSetFromTheShell(t *testing.T) {
	dir := t.TempDir()
	code, out := command("walnut and beech\n", "password", "--data", dir)
	require.Equal(t, exitFine, code, out)
	assert.Contains(t, out, filepath.Join(dir, access.PasswordFile))
	assert.NotContains(t, out, "walnut")
	h, err := access.Folder(dir).Password()
	require.NoError(t, err)
	assert.True(t, h.Is("walnut and beech"))

	code, out = command("oak\n", "password", "--data", dir)
	assert.Equal(t, exitUse, code)
	assert.Contains(t, out, "10 letters")
	assert.NotContains(t, out, "oak")
	code, out = command("walnut and beech\n", "password", "--data", filepath.Join(dir, "none"))
	assert.Equal(t, exitUse, code)
	assert.Contains(t, out, "no data folder")
	again, err := access.Folder(dir).Password()
	require.NoError(t, err)
	assert.Equal(t, h, again, "what was refused changes nothing")
}

func TestDevicesAreListedAndRevoked(t *testing.T) {
	dir := t.TempDir()
	_, out := command("", "devices", "--data", dir)
	assert.Contains(t, out, "no device is trusted")
	require.NoError(t, os.WriteFile(filepath.Join(dir, access.PasswordFile), []byte("$argon2id$v=19$m=19456,t=2,p=1$MDEyMzQ1Njc4OWFiY2RlZg$MDEyMzQ1Njc4OWFiY2RlZg"), 0o600))
	keys := access.Folder(dir)
	by, err := keys.Password()
	require.NoError(t, err)
	token := access.NewToken()
	require.NoError(t, keys.Trust(token, "screen\x1b[2J", by, time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)))
	_, out = command("", "devices", "--data", dir)
	assert.Regexp(t, `^[0-9a-f]{8}  2026-03-1[345] ..:..  "screen\\x1b\[2J"\n$`, out)
	code, _ := command("", "devices", "--data", dir, "--revoke", "zz")
	assert.Equal(t, exitUse, code)
	assert.True(t, keys.Trusted(token, by))
	code, out = command("", "devices", "--data", dir, "--revoke", out[:8])
	assert.Equal(t, exitFine, code, out)
	assert.False(t, keys.Trusted(token, by))
}

// TestAPasswordFromAFileOrTheEnvironmentIsTakenOver, once and with a word about it, unless another was set since.
func TestAPasswordFromAFileOrTheEnvironmentIsTakenOver(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	file := filepath.Join(t.TempDir(), "password")
	require.NoError(t, os.WriteFile(file, []byte("walnut and beech\n"), 0o600))
	var out strings.Builder
	d := doorFlags{password: file}
	gate, conf, err := d.gate(dir, &out)
	require.NoError(t, err)
	assert.Nil(t, conf)
	assert.Contains(t, out.String(), "holds from now on")
	h, err := gate.Keys.Password()
	require.NoError(t, err)
	assert.True(t, h.Is("walnut and beech"))

	out.Reset()
	_, _, err = d.gate(dir, &out)
	require.NoError(t, err)
	assert.Empty(t, out.String(), "it is the same")
	t.Setenv(passwordEnv, "oak and ash wood")
	_, _, err = (&doorFlags{}).gate(dir, &out)
	require.ErrorContains(t, err, "another one")
	assert.NotContains(t, err.Error(), "oak")
	t.Setenv(passwordEnv, "oak")
	_, _, err = (&doorFlags{}).gate(t.TempDir(), &out)
	require.ErrorContains(t, err, "10 letters")
	require.NoError(t, os.Chmod(file, 0o644))
	_, _, err = d.gate(dir, &out)
	assert.ErrorContains(t, err, "chmod 600")
}

func TestEncryptionIsAskedForInOneWay(t *testing.T) {
	for _, l := range []lineFlags{{cert: "a"}, {key: "a"}, {cert: "a", key: "b", plain: true}, {cert: "none.pem", key: "none.key"}} {
		_, _, err := (&doorFlags{lineFlags: l}).gate(t.TempDir(), &strings.Builder{})
		assert.Error(t, err, "%+v", l)
	}
	gate, _, err := (&doorFlags{lineFlags: lineFlags{plain: true}}).gate(t.TempDir(), &strings.Builder{})
	require.NoError(t, err)
	assert.True(t, gate.Plain)
}
