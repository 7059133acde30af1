package service

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"github.com/google/renameio/v2"
)

// Step is one thing to do.
type Step struct {
	Text string // what it does, as "write /etc/…"
	do   func(ctx context.Context, out io.Writer) error
}

// Plan is what is to be done, in order.
type Plan struct {
	Steps []Step
	Notes []string // what a person should know or do besides
}

// Do does all steps in order and tells each; the first that fails ends it.
func (p *Plan) Do(ctx context.Context, out io.Writer) error {
	for _, s := range p.Steps {
		fmt.Fprintln(out, s.Text)
		if err := s.do(ctx, out); err != nil {
			return fmt.Errorf("%s: %w", s.Text, err)
		}
	}
	return nil
}

// system is where a plan is carried out.
type system struct {
	root string // "/" for the board itself
}

// here tells that the plan is for the running system, so that users can be made and services started.
func (s system) here() bool { return s.root == "/" }

func (s system) path(p string) string { return filepath.Join(s.root, p) }

// write is the step that writes a file whole: under another name first, so that a power cut leaves the old one or the
// new one.
func (s system) write(p string, mode fs.FileMode, content []byte) Step {
	path := s.path(p)
	return Step{Text: "write " + path, do: func(context.Context, io.Writer) error {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		return renameio.WriteFile(path, content, mode, renameio.IgnoreUmask())
	}}
}

// link is the step that makes a link to a path of the system.
func (s system) link(p, to string) Step {
	path := s.path(p)
	return Step{Text: "link " + path + " to " + to, do: func(context.Context, io.Writer) error {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		return os.Symlink(to, path)
	}}
}

// remove is the step that removes a file; one that is not there is no error.
func (s system) remove(p string) Step {
	path := s.path(p)
	return Step{Text: "remove " + path, do: func(context.Context, io.Writer) error {
		if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		return nil
	}}
}

// call is the step that runs a program of the system.
func call(name string, args ...string) Step {
	return Step{Text: "run " + strings.Join(append([]string{name}, args...), " "), do: func(ctx context.Context, out io.Writer) error {
		cmd := exec.CommandContext(ctx, name, args...)
		cmd.Stdout, cmd.Stderr = out, out
		return cmd.Run()
	}}
}
