package credential

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"ductward/internal/shop"
)

// Secret reads a secret from where the shop file says; what names it in errors. The empty Secret is "". A file that
// others than its owner and group may read, or others than its owner may write, is refused: whoever has an account on the
// board would have the secret. An error names file or variable and what is wrong with it, never what it holds.
func Secret(what string, s shop.Secret) (string, error) {
	switch {
	case s.Env != "":
		text, ok := os.LookupEnv(s.Env)
		if !ok || text == "" {
			return "", fmt.Errorf("%s: the environment has no %s: set it, or name a file instead", what, s.Env)
		}
		return text, nil
	case s.File == "":
		return "", nil
	}
	info, err := os.Stat(s.File)
	if err != nil {
		return "", fmt.Errorf("%s: %w", what, err)
	}
	if err := tight(s.File, info.Mode()); err != nil {
		return "", fmt.Errorf("%s: %w", what, err)
	}
	text, err := os.ReadFile(s.File)
	if err != nil {
		return "", fmt.Errorf("%s: %w", what, err)
	}
	secret := strings.TrimRight(string(text), "\r\n")
	if secret == "" {
		return "", fmt.Errorf("%s: %s is empty", what, s.File)
	}
	return secret, nil
}

// tight refuses a mode that lets others in.
func tight(file string, mode fs.FileMode) error {
	if mode.IsRegular() && mode.Perm()&0o027 != 0 {
		return fmt.Errorf("%s has the mode %04o, so that others than its owner can read or change it: chmod 600 it, or 640", file, mode.Perm())
	}
	return nil
}

// Authorities returns how to talk TLS to a server by its name: with the certificate authorities of the system, or those in a
// PEM file.
func Authorities(what, file, server string) (*tls.Config, error) {
	conf := &tls.Config{MinVersion: tls.VersionTLS12, ServerName: server}
	if file == "" {
		return conf, nil
	}
	pem, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("%s: certificate authority: %w", what, err)
	}
	conf.RootCAs = x509.NewCertPool()
	if !conf.RootCAs.AppendCertsFromPEM(pem) {
		return nil, errors.New(what + ": certificate authority: " + file + " holds no PEM certificate")
	}
	return conf, nil
}
