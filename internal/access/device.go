package access

import (
	"cmp"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// devicesFolder is the name, in the data folder, of the folder of trusted devices.
const devicesFolder = "ductward.devices"

// mostDevices is more than a shop has, and few enough to be looked through.
const mostDevices = 50

// ErrNoDevice is returned for a device that is not, or no longer, trusted.
var ErrNoDevice = errors.New("no such device is trusted")

// Device is a screen or a phone that need not sign in.
type Device struct {
	ID    string    `json:"-"` // the hash of its token, in hexadecimal
	Name  string    `json:"name"`
	Since time.Time `json:"since"`
	By    string    `json:"by"` // the fingerprint of the password by which it was trusted
}

// NewToken returns 256 random bits in hexadecimal, for a cookie.
func NewToken() string {
	var b [32]byte
	_, _ = rand.Read(b[:]) // never fails
	return hex.EncodeToString(b[:])
}

// TokenID is the hash by which a token is known. A token is random and long, so that a plain hash will do.
func TokenID(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

// Fingerprint stands for a hash where the hash itself need not be; a new password has another.
func (h Hash) Fingerprint() string { return TokenID(string(h))[:16] }

// Trust lets the device that holds a token change things until it, or the password, is taken away.
func (dir Folder) Trust(token, name string, by Hash, at time.Time) error {
	known, err := dir.Devices(by)
	if err != nil {
		return err
	}
	if len(known) >= mostDevices {
		return fmt.Errorf("%d devices are trusted already: take one away first", len(known))
	}
	text, err := json.Marshal(Device{Name: name, Since: at.UTC(), By: by.Fingerprint()})
	if err != nil {
		return err
	}
	folder := filepath.Join(string(dir), devicesFolder)
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return err
	}
	return replace(filepath.Join(folder, TokenID(token)), append(text, '\n'), nil)
}

// Trusted tells whether the holder of a token is trusted under a password.
func (dir Folder) Trusted(token string, by Hash) bool {
	d, err := dir.device(TokenID(token))
	return err == nil && by != "" && d.By == by.Fingerprint()
}

// Devices lists what is trusted under a password, the oldest first. What cannot be read is left out: it is not trusted.
func (dir Folder) Devices(by Hash) ([]Device, error) {
	files, err := os.ReadDir(filepath.Join(string(dir), devicesFolder))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("the trusted devices: %w", err)
	}
	var out []Device
	for _, f := range files {
		if d, err := dir.device(f.Name()); err == nil && by != "" && d.By == by.Fingerprint() {
			out = append(out, d)
		}
	}
	slices.SortFunc(out, func(a, b Device) int { return cmp.Or(a.Since.Compare(b.Since), cmp.Compare(a.ID, b.ID)) })
	return out, nil
}

// Revoke takes a device's trust away. Its ID may be cut, as long as it is still the only one so called.
func (dir Folder) Revoke(id string, by Hash) (Device, error) {
	known, err := dir.Devices(by)
	if err != nil {
		return Device{}, err
	}
	var found []Device
	for _, d := range known {
		if id != "" && strings.HasPrefix(d.ID, id) {
			found = append(found, d)
		}
	}
	switch len(found) {
	case 0:
		return Device{}, fmt.Errorf("%q: %w", id, ErrNoDevice)
	case 1:
		return found[0], os.Remove(filepath.Join(string(dir), devicesFolder, found[0].ID))
	}
	return Device{}, fmt.Errorf("%q is the beginning of %d devices: write more of it", id, len(found))
}

func (dir Folder) device(id string) (Device, error) {
	d := Device{ID: id}
	if b, err := hex.DecodeString(id); err != nil || len(b) != sha256.Size {
		return d, ErrNoDevice // a file of somebody else's, or no hash at all
	}
	text, err := os.ReadFile(filepath.Join(string(dir), devicesFolder, id))
	if err == nil {
		err = json.Unmarshal(text, &d)
	}
	return d, err
}
