package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestInstallTellsFirstAndDoesThen(t *testing.T) {
	root := t.TempDir()
	got := call(t, "install", elmLane, "--root", root)
	assert.Equal(t, exitFine, got.code, got.errOut)
	assert.Contains(t, got.out, "would write "+filepath.Join(root, "etc/systemd/system/ductward.service"))
	assert.Contains(t, got.out, "Nothing has been changed")
	left, err := os.ReadDir(root)
	require.NoError(t, err)
	assert.Empty(t, left)

	got = call(t, "install", elmLane, "--root", root, "--listen", "0.0.0.0:8137", "--apply")
	assert.Equal(t, exitFine, got.code, got.errOut)
	assert.NotContains(t, got.out, "would")
	unit, err := os.ReadFile(filepath.Join(root, "etc/systemd/system/ductward.service"))
	require.NoError(t, err)
	assert.Contains(t, string(unit), "ExecStart=/usr/local/bin/ductward run /etc/ductward/shop.yaml --data /var/lib/ductward --listen 0.0.0.0:8137\n")
	assert.Contains(t, string(unit), "Type=notify\n")
	written, err := os.ReadFile(filepath.Join(root, "etc/ductward/shop.yaml"))
	require.NoError(t, err)
	want, err := os.ReadFile(elmLane)
	require.NoError(t, err)
	assert.Equal(t, string(want), string(written))

	got = call(t, "install", demoFile(t), "--root", root, "--apply")
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.errOut, "--replace puts SITE in its place")

	got = call(t, "uninstall", "--root", root)
	assert.Contains(t, got.out, "would remove")
	got = call(t, "uninstall", "--root", root, "--apply")
	assert.Equal(t, exitFine, got.code, got.errOut)
	assert.NoFileExists(t, filepath.Join(root, "usr/local/bin/ductward"))
	assert.FileExists(t, filepath.Join(root, "etc/ductward/shop.yaml"))
	assert.Equal(t, exitFailed, call(t, "uninstall", "--root", root).code, "there is nothing any more")
}

func TestInstallOfABadFile(t *testing.T) {
	got := call(t, "install", write(t, "shop.yaml", "shop: A\ncollectors: 3\n"), "--root", t.TempDir(), "--apply")
	assert.Equal(t, exitNotFine, got.code)
}
