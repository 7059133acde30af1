package access

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/google/renameio/v2"
)

// PasswordFile is the name, in the data folder, of the file that holds the password's hash.
const PasswordFile = "ductward.password"

// Folder is the data folder in which password and devices are kept.
type Folder string

// shortest is what a password must have at least: several words, not a name. Common practice, no source.
const shortest = 10

// CheckPassword refuses a password that is too easily tried.
func CheckPassword(password string) error {
	if n := len([]rune(password)); n < shortest {
		return fmt.Errorf("the password has fewer than %d letters: take several words", shortest)
	}
	return nil
}

// SetPassword keeps the hash of a password and returns the file. own, unless nil, gives the new file to whoever runs the
// watch, before it takes the old one's place.
func (dir Folder) SetPassword(password string, own func(file string)) (string, error) {
	if err := CheckPassword(password); err != nil {
		return "", err
	}
	path := filepath.Join(string(dir), PasswordFile)
	return path, replace(path, []byte(NewHash(password)+"\n"), own)
}

// Password returns the hash of the password; "" where none was set.
func (dir Folder) Password() (Hash, error) {
	path := filepath.Join(string(dir), PasswordFile)
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err == nil && info.Mode().Perm()&0o077 != 0 {
		err = fmt.Errorf("%s has the mode %04o, so that others than its owner can read or change it: chmod 600 it", path, info.Mode().Perm())
	}
	var text []byte
	if err == nil {
		text, err = os.ReadFile(path)
	}
	if err != nil {
		return "", fmt.Errorf("the dashboard's password: %w", err)
	}
	h := Hash(strings.TrimSpace(string(text)))
	if _, err := parseHash(h); err != nil {
		return "", fmt.Errorf("the dashboard's password: %s: %w", path, err)
	}
	return h, nil
}

// replace writes a file that its owner alone may read, whole or not at all.
func replace(path string, text []byte, own func(file string)) error {
	f, err := renameio.NewPendingFile(path, renameio.WithTempDir(filepath.Dir(path)), renameio.WithPermissions(0o600))
	if err != nil {
		return err
	}
	defer f.Cleanup() // or there is nothing left to clean up
	if _, err := f.Write(text); err != nil {
		return err
	}
	if own != nil {
		own(f.Name())
	}
	return f.CloseAtomicallyReplace()
}
