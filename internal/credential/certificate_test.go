package credential

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// writePair writes a certificate that signs itself, with its key, as PEM.
func writePair(t *testing.T, dir string, serial int64, at time.Time) (cert, key string) {
	t.Helper()
	k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	of := &x509.Certificate{SerialNumber: big.NewInt(serial), Subject: pkix.Name{CommonName: "board"}, DNSNames: []string{"board"},
		NotBefore: time.Unix(0, 0), NotAfter: time.Unix(1<<33, 0)}
	der, err := x509.CreateCertificate(rand.Reader, of, of, k.Public(), k)
	require.NoError(t, err)
	secret, err := x509.MarshalPKCS8PrivateKey(k)
	require.NoError(t, err)
	cert, key = filepath.Join(dir, "board.pem"), filepath.Join(dir, "board.key")
	require.NoError(t, os.WriteFile(cert, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o644))
	require.NoError(t, os.WriteFile(key, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}), 0o600))
	require.NoError(t, os.Chtimes(cert, at, at))
	require.NoError(t, os.Chtimes(key, at, at))
	return cert, key
}

func TestARenewedCertificateHoldsAtOnce(t *testing.T) {
	dir, at := t.TempDir(), time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)
	cert, key := writePair(t, dir, 1, at)
	conf, err := Server(cert, key)
	require.NoError(t, err)
	serial := func() int64 {
		c, err := conf.GetCertificate(nil)
		require.NoError(t, err)
		return c.Leaf.SerialNumber.Int64()
	}
	assert.Equal(t, int64(1), serial())
	writePair(t, dir, 2, at.Add(time.Hour))
	assert.Equal(t, int64(2), serial())

	require.NoError(t, os.WriteFile(cert, []byte("half of one"), 0o644))
	require.NoError(t, os.Chtimes(cert, at, at.Add(2*time.Hour)))
	assert.Equal(t, int64(2), serial(), "the old one holds until the new one is whole")
}

func TestCertificatesThatCannotServe(t *testing.T) {
	dir := t.TempDir()
	cert, key := writePair(t, dir, 1, time.Unix(0, 0))
	_, err := Server(cert, filepath.Join(dir, "none"))
	require.ErrorContains(t, err, "none")
	_, err = Server(key, cert)
	require.Error(t, err)
	require.NoError(t, os.Chmod(key, 0o644))
	_, err = Server(cert, key)
	assert.ErrorContains(t, err, "chmod 600")
}
