package credential

import (
	"crypto/tls"
	"fmt"
	"os"
	"sync"
	"time"
)

// Server returns how to talk TLS as a server: with the certificate chain and the private key of two PEM files. They are read
// again when one of them has changed, so that a renewed certificate holds without a restart; until both fit each other
// again the old ones hold. An error names the file and what is wrong with it.
func Server(certFile, keyFile string) (*tls.Config, error) {
	p := &pair{certFile: certFile, keyFile: keyFile}
	if err := p.read(); err != nil {
		return nil, err
	}
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: p.get}, nil
}

// pair is a certificate with its key, as they were read.
type pair struct {
	certFile, keyFile string

	mu    sync.Mutex
	cert  *tls.Certificate
	stamp [2]time.Time // when the files were changed
}

func (p *pair) get(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if stamp, err := p.changed(); err == nil && stamp != p.stamp {
		_ = p.read() // between the writing of the one and of the other they do not fit: the old ones still do
	}
	return p.cert, nil
}

func (p *pair) changed() (stamp [2]time.Time, err error) {
	for i, file := range []string{p.certFile, p.keyFile} {
		info, err := os.Stat(file)
		if err != nil {
			return stamp, err
		}
		stamp[i] = info.ModTime()
	}
	return stamp, nil
}

// read reads both files. The caller holds mu, or has the pair alone.
func (p *pair) read() error {
	stamp, err := p.changed()
	if err != nil {
		return fmt.Errorf("the dashboard's certificate: %w", err)
	}
	info, err := os.Stat(p.keyFile)
	if err == nil {
		err = tight(p.keyFile, info.Mode())
	}
	if err != nil {
		return fmt.Errorf("the dashboard's certificate: %w", err)
	}
	cert, err := tls.LoadX509KeyPair(p.certFile, p.keyFile)
	if err != nil {
		return fmt.Errorf("the dashboard's certificate: %s with the key %s: %w", p.certFile, p.keyFile, err)
	}
	p.cert, p.stamp = &cert, stamp
	return nil
}
