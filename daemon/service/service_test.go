package service

import (
	"bytes"
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// image is a root with a plan for it, and the program that it installs: one that ends at once.
func image(t *testing.T) (string, Options) {
	t.Helper()
	root := t.TempDir()
	program := filepath.Join(t.TempDir(), "ductward")
	require.NoError(t, os.WriteFile(program, []byte("#!/bin/sh\nexit 0\n"), 0o700))
	return root, Options{Root: root, Program: program, Shop: []byte("shop: Elm Lane\n"), Door: Door{Listen: "127.0.0.1:8137"}}
}

// files lists what lies under a root, by path, with the mode of a file and the end of a link.
func files(t *testing.T, root string) map[string]string {
	t.Helper()
	all := map[string]string{}
	require.NoError(t, filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		what := info.Mode().String()
		if d.Type() == fs.ModeSymlink {
			if what, err = os.Readlink(path); err != nil {
				return err
			}
		}
		all[strings.TrimPrefix(path, root)] = what
		return nil
	}))
	return all
}

func do(t *testing.T, p *Plan) string {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, p.Do(t.Context(), &out))
	return out.String()
}

func TestInstallIntoAnImageAndAway(t *testing.T) {
	root, o := image(t)
	p, err := Install(o)
	require.NoError(t, err)
	assert.Empty(t, files(t, root), "a plan changes nothing")
	for _, s := range p.Steps {
		assert.NotContains(t, s.Text, "systemctl", "in an image nothing is started")
	}
	told := do(t, p)
	assert.Contains(t, told, "write "+root+"/usr/local/bin/ductward\n")
	assert.Equal(t, map[string]string{
		"/usr/local/bin/ductward":                                      "-rwxr-xr-x",
		"/etc/ductward/shop.yaml":                                      "-rw-r--r--",
		"/etc/sysusers.d/ductward.conf":                                "-rw-r--r--",
		"/etc/systemd/system/ductward.service":                         "-rw-r--r--",
		"/etc/systemd/system/multi-user.target.wants/ductward.service": "/etc/systemd/system/ductward.service",
	}, files(t, root))
	users, err := os.ReadFile(filepath.Join(root, userFile))
	require.NoError(t, err)
	assert.Contains(t, string(users), "u ductward - ")
	assert.Contains(t, string(users), "m ductward i2c\n")

	again, err := Install(o)
	require.NoError(t, err)
	for _, s := range again.Steps {
		assert.NotContains(t, s.Text, "/usr/local/bin/", "what is as it should be is left alone")
		assert.NotContains(t, s.Text, "shop.yaml")
	}
	do(t, again)

	p, err = Uninstall(root)
	require.NoError(t, err)
	do(t, p)
	assert.Equal(t, map[string]string{"/etc/ductward/shop.yaml": "-rw-r--r--"}, files(t, root), "the shop file stays")
	_, err = Uninstall(root)
	assert.ErrorContains(t, err, "no such service")
}

func TestAnotherShopFileIsNotOverwritten(t *testing.T) {
	root, o := image(t)
	p, err := Install(o)
	require.NoError(t, err)
	do(t, p)
	o.Shop = []byte("shop: Oak Lane\n")
	_, err = Install(o)
	assert.ErrorIs(t, err, ErrOtherShop)
	o.Replace = true
	p, err = Install(o)
	require.NoError(t, err)
	do(t, p)
	got, err := os.ReadFile(filepath.Join(root, shopFile))
	require.NoError(t, err)
	assert.Equal(t, "shop: Oak Lane\n", string(got))
}

// TestInstallOnTheBoardItself plans to make the user and to start the service, after all files are there; nothing of it
// is done here.
func TestInstallOnTheBoardItself(t *testing.T) {
	_, o := image(t)
	o.Root, o.Replace = "/", true
	p, err := Install(o)
	require.NoError(t, err)
	var texts []string
	for _, s := range p.Steps {
		texts = append(texts, s.Text)
	}
	require.GreaterOrEqual(t, len(texts), 3)
	assert.Equal(t, []string{"run systemd-sysusers /etc/sysusers.d/ductward.conf", "run systemctl daemon-reload", "run systemctl restart ductward.service"},
		texts[len(texts)-3:])
}

func TestInstallRefuses(t *testing.T) {
	root, o := image(t)
	for name, bad := range map[string]func(*Options){
		"no folder":  func(o *Options) { o.Root = o.Program },
		"no root":    func(o *Options) { o.Root = filepath.Join(root, "nowhere") },
		"no program": func(o *Options) { o.Program = filepath.Join(root, "nowhere") },
		"no address": func(o *Options) { o.Door.Listen = "here" },
	} {
		own := o
		bad(&own)
		_, err := Install(own)
		assert.Error(t, err, name)
	}
	assert.Empty(t, files(t, root))
}

func TestAStepThatFailsIsNamedAndEndsIt(t *testing.T) {
	root, o := image(t)
	require.NoError(t, os.WriteFile(filepath.Join(root, "etc"), nil, 0o600)) // where a folder should be
	p, err := Install(o)
	if err == nil {
		err = p.Do(t.Context(), &bytes.Buffer{})
	}
	require.Error(t, err)
	p = &Plan{Steps: []Step{call("false"), {Text: "never", do: func(context.Context, io.Writer) error { return errors.New("reached") }}}}
	err = p.Do(t.Context(), &bytes.Buffer{})
	assert.ErrorContains(t, err, "run false")
}

func TestGroupsThatOwnTheBuses(t *testing.T) {
	assert.Equal(t, []string{"dialout", "gpio", "i2c"}, busGroups(nil))
	own := filepath.Join(t.TempDir(), "i2c-1")
	require.NoError(t, os.WriteFile(own, nil, 0o600))
	groups := busGroups([]string{filepath.Join(filepath.Dir(own), "i2c-*")})
	assert.NotContains(t, groups, "root")
	if g := owner(own); g != "root" && g != "" {
		assert.Contains(t, groups, g)
	}
	assert.Empty(t, owner(own+"0"))
}
