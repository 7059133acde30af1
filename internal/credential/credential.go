// Package credential reads what the shop file or the command line only names, so that no secret stands in it: passwords,
// certificate authorities, and the certificate of the dashboard.
package credential

import (
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"fmt"
	"os"

	"ductward/internal/shop"
)

// Broker reads the password and the certificate authority of a broker. The password is "" and the configuration nil
// where the shop file names none. An error names the file and what is wrong with it, never what it holds.
func Broker(m *shop.MQTT) (password string, conf *tls.Config, err error) {
	password, err = Secret("the broker's password", shop.Secret{File: m.PasswordFile, Env: m.PasswordEnv})
	if err != nil {
		return "", nil, err
	}
	if m.CAFile == "" {
		return password, nil, nil
	}
	pem, err := os.ReadFile(m.CAFile)
	if err != nil {
		return "", nil, fmt.Errorf("the broker's certificate authority: %w", err)
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(pem) {
		return "", nil, fmt.Errorf("the broker's certificate authority: %s holds no PEM certificate", m.CAFile)
	}
	return password, &tls.Config{RootCAs: pool, MinVersion: tls.VersionTLS12}, nil
}

// ClientName returns a name for a connection that no other has. With prefixes of up to 13 letters it keeps to the 23 that
// every broker must take (MQTT 3.1.1, section 3.1.3.1).
func ClientName(prefix string) (string, error) {
	var random [5]byte
	if _, err := rand.Read(random[:]); err != nil {
		return "", err
	}
	return prefix + hex.EncodeToString(random[:]), nil
}
