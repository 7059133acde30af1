package main

import (
	"crypto/x509"
	"encoding/pem"
	"net/http/httptest"
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

// TestInstallWithACertificate looks at it in the system that is installed to, and leaves it where and as it is.
func TestInstallWithACertificate(t *testing.T) {
	lender := httptest.NewTLSServer(nil)
	defer lender.Close()
	root := t.TempDir()
	install := func(more ...string) result {
		return call(t, append([]string{"install", elmLane, "--root", root, "--listen", "0.0.0.0:443", "--name", "board.lan"}, more...)...)
	}
	assert.Equal(t, exitUse, install("--tls-cert", "/board.pem").code)
	assert.Equal(t, exitUse, install("--tls-cert", "/board.pem", "--tls-key", "/board.key", "--plain-http").code)
	got := install("--tls-cert", "/board.pem", "--tls-key", "/board.key")
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.errOut, filepath.Join(root, "board.pem"))

	lent := lender.TLS.Certificates[0]
	key, err := x509.MarshalPKCS8PrivateKey(lent.PrivateKey)
	require.NoError(t, err)
	for name, block := range map[string]*pem.Block{"board.pem": {Type: "CERTIFICATE", Bytes: lent.Certificate[0]}, "board.key": {Type: "PRIVATE KEY", Bytes: key}} {
		require.NoError(t, os.WriteFile(filepath.Join(root, name), pem.EncodeToMemory(block), 0o644))
	}
	got = install("--tls-cert", "/board.pem", "--tls-key", "/board.key")
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.errOut, "chmod 600")
	require.NoError(t, os.Chmod(filepath.Join(root, "board.key"), 0o600))
	got = install("--tls-cert", "/board.pem", "--tls-key", "/board.key")
	assert.Equal(t, exitFine, got.code, got.errOut)
	assert.Contains(t, got.out, "https://0.0.0.0:443/")
	assert.Contains(t, got.out, "/board.key")
	assert.Contains(t, got.out, "ductward password")
	assert.Contains(t, got.out, "Nothing has been changed")

	got = install("--tls-cert", "/board.pem", "--tls-key", "/board.key", "--apply")
	assert.Equal(t, exitFine, got.code, got.errOut)
	unit, err := os.ReadFile(filepath.Join(root, "etc/systemd/system/ductward.service"))
	require.NoError(t, err)
	assert.Contains(t, string(unit), "LoadCredential=tls-key:/board.key\n", "as the path will be when the image runs")
	assert.Contains(t, string(unit), " --name board.lan\n")
	assert.Contains(t, install().out, "change nothing", "without a certificate that is said")
}

func TestInstallOfABadFile(t *testing.T) {
	got := call(t, "install", write(t, "shop.yaml", "shop: A\ncollectors: 3\n"), "--root", t.TempDir(), "--apply")
	assert.Equal(t, exitNotFine, got.code)
}
