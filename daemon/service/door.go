package service

import (
	"errors"
	"fmt"
	"io/fs"
	"net"
	"path/filepath"
	"regexp"
	"strconv"

	"ductward/internal/credential"
)

// Door says how the dashboard is reached, as the flags of "ductward run" do.
type Door struct {
	Listen    string   // HOST:PORT
	Cert, Key string   // whole paths of PEM files in the system that is installed to; "": the line is not encrypted
	Plain     bool     // other machines may change things over a line that is not encrypted
	Names     []string // by which it is reached besides its number and the names of its network
}

// plainWord is what stands in a unit as it is: nothing that systemd would replace, part or quote (systemd.service(5), "Command
// lines"; systemd.unit(5), "Specifiers").
var plainWord = regexp.MustCompile(`^[A-Za-z0-9._:/@+,=\[\]-]+$`)

// check refuses what the unit could not say or the service not do.
func (d *Door) check() error {
	_, port, err := net.SplitHostPort(d.Listen)
	if err == nil {
		_, err = strconv.ParseUint(port, 10, 16)
	}
	if err != nil {
		return fmt.Errorf("the dashboard's address %q: %w: write HOST:PORT, as 0.0.0.0:8137", d.Listen, err)
	}
	for _, path := range []string{d.Cert, d.Key} {
		if path != "" && !filepath.IsAbs(path) {
			return fmt.Errorf("the dashboard's certificate: write the whole path of %q, from / on", path)
		}
	}
	for _, word := range append([]string{d.Listen, d.Cert, d.Key}, d.Names...) {
		if word != "" && !plainWord.MatchString(word) {
			return fmt.Errorf("%q cannot stand in a unit of systemd as it is: name it with letters, digits and . _ : / @ + , = - alone", word)
		}
	}
	return nil
}

// door looks at the certificate with its key, and notes how the dashboard will be reached.
func (p *Plan) door(s system, d Door) error {
	scheme := "http"
	if d.Cert != "" {
		scheme = "https"
		_, err := credential.Server(s.path(d.Cert), s.path(d.Key))
		switch {
		case errors.Is(err, fs.ErrPermission):
			p.Notes = append(p.Notes, fmt.Sprintf("Whether %s and %s fit each other could not be seen by who asked; with sudo it is.", d.Cert, d.Key))
		case err != nil:
			return err
		}
		p.Notes = append(p.Notes, fmt.Sprintf("systemd hands the certificate %s and its key %s to the service at each start: a renewed one holds after systemctl restart ductward.", d.Cert, d.Key))
	}
	p.Notes = append([]string{"The dashboard will be at " + scheme + "://" + d.Listen + "/."}, p.Notes...)
	if host, _, _ := net.SplitHostPort(d.Listen); !onThisMachine(host) {
		p.Notes = append(p.Notes, d.changes())
	}
	return nil
}

// onThisMachine tells whether nobody else reaches an address.
func onThisMachine(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// changes says what other machines may do.
func (d *Door) changes() string {
	if d.Cert == "" && !d.Plain {
		return "Whoever is on the network can read it, and change nothing: for that it needs a certificate (--tls-cert, --tls-key), or your choice of --plain-http."
	}
	return "Whoever is on the network can read it. Whoever changes something needs the password, which you set with: ductward password --data " + data
}

// flags are those of the command.
func (d *Door) flags() []string {
	flags := []string{"--listen", d.Listen}
	if d.Cert != "" {
		flags = append(flags, "--tls-cert", "${CREDENTIALS_DIRECTORY}/tls-cert", "--tls-key", "${CREDENTIALS_DIRECTORY}/tls-key")
	}
	if d.Plain {
		flags = append(flags, "--plain-http")
	}
	for _, name := range d.Names {
		flags = append(flags, "--name", name)
	}
	return flags
}

// credentials are the lines by which systemd hands files to the service that its user cannot reach itself, from home folders
// too (systemd.exec(5), "Credentials"; since systemd 247).
func (d *Door) credentials() string {
	if d.Cert == "" {
		return ""
	}
	return "LoadCredential=tls-cert:" + d.Cert + "\nLoadCredential=tls-key:" + d.Key + "\n"
}

// capability is what a port needs that is kept for the system (capabilities(7), CAP_NET_BIND_SERVICE).
func (d *Door) capability() string {
	_, port, _ := net.SplitHostPort(d.Listen) // checked
	if n, err := strconv.Atoi(port); err == nil && n > 0 && n < 1024 {
		return "CAP_NET_BIND_SERVICE"
	}
	return ""
}
