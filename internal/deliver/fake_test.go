package deliver

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/outbox"
)

// certificate is one for 127.0.0.1 that signs itself, and the file that holds it.
func certificate(t *testing.T) (tls.Certificate, string) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	made := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "test"}, IsCA: true,
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}}
	der, err := x509.CreateCertificate(rand.Reader, made, made, &key.PublicKey, key)
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "ca.pem")
	require.NoError(t, os.WriteFile(file, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600))
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, file
}

// secretFile is a file that holds a secret.
func secretFile(t *testing.T, secret string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "secret")
	require.NoError(t, os.WriteFile(file, []byte(secret+"\n"), 0o600))
	return file
}

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// leak is a letter about an alarm, with what is hard to carry.
func leak() *outbox.Item {
	a := alarm.Alarm{ID: "main/leak-7", Cause: "main/new-leak/trunk 3", State: alarm.ActiveUnacknowledged, Raised: noon,
		Priority: finding.ActToday, Text: "7 L/s “leak” into trunk 3 [east]\nsince Friday"}
	return &outbox.Item{Number: 42, Letter: outbox.Letter{ID: "main/leak-7.1.raised", Kind: outbox.Alarm, Event: alarm.Raised,
		Priority: finding.ActToday, Shop: "Tischlerei Öhm", At: noon, Boot: 3,
		Subject: "Tischlerei Öhm: act today: 7 L/s\r\nBcc: everybody@example.org", Text: a.Text + "\n\n.\nWhat to do: look.\n", Alarm: &a}}
}
