package service

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Options say what is installed, and where.
type Options struct {
	Root    string // "/" or that of an image
	Program string // path of the program to install: as a rule the one that runs
	Shop    []byte // the shop file, which was read and is sound
	Replace bool   // put Shop in the place of another that is there
	Door    Door
}

// ErrOtherShop is wrapped where another shop file is there already.
var ErrOtherShop = errors.New("another shop file is there already")

// Install plans to make the watch a service. It changes nothing.
func Install(o Options) (*Plan, error) {
	s, err := at(o.Root)
	if err != nil {
		return nil, err
	}
	if err := o.Door.check(); err != nil {
		return nil, err
	}
	binary, err := os.ReadFile(o.Program)
	if err != nil {
		return nil, fmt.Errorf("read the program: %w", err)
	}
	p := &Plan{}
	if err := p.door(s, o.Door); err != nil {
		return nil, err
	}
	if old, err := os.ReadFile(s.path(program)); err != nil || !bytes.Equal(old, binary) {
		p.Steps = append(p.Steps, s.write(program, 0o755, binary))
	}
	if err := p.shop(s, o); err != nil {
		return nil, err
	}
	p.Steps = append(p.Steps, s.write(userFile, 0o644, []byte(usersText(groups(s)))), s.write(unitFile, 0o644, []byte(unitText(o.Door))), s.link(wanted, unitFile))
	if !s.here() {
		p.Notes = append(p.Notes, "The image makes the user ductward at its first start, by systemd-sysusers.")
		return p, nil
	}
	p.Steps = append(p.Steps, call("systemd-sysusers", userFile), call("systemctl", "daemon-reload"), call("systemctl", "restart", "ductward.service"))
	p.Notes = append(p.Notes, "Look at it by: systemctl status ductward; journalctl -u ductward")
	return p, nil
}

// shop plans to write the shop file, unless it is there.
func (p *Plan) shop(s system, o Options) error {
	old, err := os.ReadFile(s.path(shopFile))
	switch {
	case err == nil && bytes.Equal(old, o.Shop):
		return nil
	case err == nil && !o.Replace:
		return fmt.Errorf("%s: %w", s.path(shopFile), ErrOtherShop)
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return err
	}
	p.Steps = append(p.Steps, s.write(shopFile, 0o644, o.Shop))
	return nil
}

func groups(s system) []string {
	if s.here() {
		return busGroups(devices)
	}
	return busGroups(nil)
}

// at checks the root.
func at(root string) (system, error) {
	if root == "" {
		root = "/"
	}
	clean, err := filepath.Abs(root)
	if err != nil {
		return system{}, err
	}
	info, err := os.Stat(clean)
	if err != nil {
		return system{}, fmt.Errorf("the root: %w", err)
	}
	if !info.IsDir() {
		return system{}, fmt.Errorf("the root %s is no folder", clean)
	}
	return system{clean}, nil
}

// Uninstall plans to take the service away. The shop file and the data stay, and so does the user who owns them.
func Uninstall(root string) (*Plan, error) {
	s, err := at(root)
	if err != nil {
		return nil, err
	}
	if _, err := os.Lstat(s.path(unitFile)); errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: there is no such service to take away", s.path(unitFile))
	}
	p := &Plan{Notes: []string{fmt.Sprintf("Left where they are: the shop file in %s, the data in %s, and the user ductward, who owns them.",
		s.path(filepath.Dir(shopFile)), s.path(data))}}
	if s.here() {
		p.Steps = append(p.Steps, call("systemctl", "stop", "ductward.service"))
	}
	p.Steps = append(p.Steps, s.remove(wanted), s.remove(unitFile), s.remove(userFile), s.remove(program))
	if s.here() {
		p.Steps = append(p.Steps, call("systemctl", "daemon-reload"))
	}
	return p, nil
}
