package main

import (
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/pflag"

	"ductward/dashboard"
	"ductward/internal/access"
	"ductward/internal/credential"
	"ductward/internal/shop"
	"ductward/internal/store"
)

// passwordEnv names the environment variable that may hold the dashboard's password.
const passwordEnv = "DUCTWARD_PASSWORD"

// doorFlags say how changes are let in on the dashboard.
type doorFlags struct {
	password string
	lineFlags
}

func (d *doorFlags) add(f *pflag.FlagSet) {
	f.StringVar(&d.password, "password-file", "", "file with a password, whose hash is kept in the data folder (default: what "+passwordEnv+" holds)")
	d.lineFlags.add(f)
}

// lineFlags say how the dashboard is reached from other machines.
type lineFlags struct {
	cert, key string
	plain     bool
	names     []string
}

func (l *lineFlags) add(f *pflag.FlagSet) {
	f.StringVar(&l.cert, "tls-cert", "", "PEM file of the dashboard's certificate, with those above it")
	f.StringVar(&l.key, "tls-key", "", "PEM file of its private key")
	f.BoolVar(&l.plain, "plain-http", false, "let other machines change things over a line that is not encrypted")
	f.StringArrayVar(&l.names, "name", nil, "name by which the dashboard is reached, besides its number, the board's own name and names that end in .local; may be repeated")
}

// check refuses what does not go together.
func (l *lineFlags) check() error {
	switch {
	case (l.cert == "") != (l.key == ""):
		return usage("--tls-cert and --tls-key come together: name both, or neither")
	case l.cert != "" && l.plain:
		return usage("--plain-http says that the line is not encrypted, and --tls-cert encrypts it: leave one away")
	}
	return nil
}

// gate says who may write on the dashboard, and how its line is encrypted.
func (d *doorFlags) gate(dir string, out io.Writer) (*dashboard.Gate, *tls.Config, error) {
	if err := d.check(); err != nil {
		return nil, nil, err
	}
	var conf *tls.Config
	if d.cert != "" {
		var err error
		if conf, err = credential.Server(d.cert, d.key); err != nil {
			return nil, nil, err
		}
	}
	keys := access.Folder(dir)
	if err := d.take(keys, out); err != nil {
		return nil, nil, err
	}
	return &dashboard.Gate{Keys: keys, Plain: d.plain}, conf, nil
}

// take keeps the hash of a password that comes as it is, from a file or the environment. Another one that was set since is
// not taken back: the owner says which of them holds.
func (d *doorFlags) take(keys access.Folder, out io.Writer) error {
	s := shop.Secret{File: d.password}
	if _, ok := os.LookupEnv(passwordEnv); ok && d.password == "" {
		s.Env = passwordEnv
	}
	password, err := credential.Secret("the dashboard's password", s)
	if err != nil || !s.Given() {
		return err
	}
	kept, err := keys.Password()
	switch {
	case err != nil:
		return err
	case kept == "":
		return keep(keys, password, out)
	case !kept.Is(password):
		return usage("the dashboard's password is another one than that in %s: start without --password-file and %s, or remove that file to let theirs hold", filepath.Join(string(keys), access.PasswordFile), passwordEnv)
	}
	return nil
}

// keep keeps the hash of a password and says where.
func keep(keys access.Folder, password string, out io.Writer) error {
	if err := access.CheckPassword(password); err != nil {
		return usage("%w", err)
	}
	if err := os.MkdirAll(string(keys), 0o755); err != nil { // as the store makes it
		return fmt.Errorf("make the data folder: %w", err)
	}
	file, err := keys.SetPassword(password, store.LikeFolder)
	if err != nil {
		return fmt.Errorf("keep the password's hash: %w", err)
	}
	_, err = fmt.Fprintf(out, "the password's hash is kept in %s; it holds from now on\n", file)
	return err
}

// folderOf returns a data folder that is there. A password set beside it would be nobody's.
func folderOf(asked string) (access.Folder, error) {
	dir := dataFolder(asked)
	info, err := os.Stat(dir)
	if err == nil && !info.IsDir() {
		err = errors.New("it is no folder")
	}
	if err != nil {
		return "", usage("no data folder %q: %w: name the one of the watch with --data; its first start makes it", dir, err)
	}
	return access.Folder(dir), nil
}
