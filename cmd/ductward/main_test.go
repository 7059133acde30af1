package main

import (
	"bytes"
	"context"
	"flag"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the golden files anew")

// result is what one command line came to.
type result struct {
	code        int
	out, errOut string
}

// call runs one command line to its end.
func call(t *testing.T, args ...string) result {
	t.Helper()
	return callIn(t.Context(), args...)
}

func callIn(ctx context.Context, args ...string) result {
	var out, errOut bytes.Buffer
	code := run(ctx, args, strings.NewReader(""), &out, &errOut)
	return result{code, out.String(), errOut.String()}
}

// golden compares text with a file under testdata/golden, or writes that file.
func golden(t *testing.T, name, text string) {
	t.Helper()
	path := filepath.Join("testdata", "golden", name)
	if *update {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err, "run the test with -update to write it")
	assert.Equal(t, string(want), text, "%s differs: look at it, and run the test with -update if that is right", path)
}

// write puts a file into a folder of the test's own.
func write(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	return path
}

func TestExitCodesAndWhereTheyComeFrom(t *testing.T) {
	missing := filepath.Join(t.TempDir(), "no such.yaml")
	wrong := write(t, "wrong.yaml", "shop: Elm Lane\ncollectors: 3\n")
	rows := []struct {
		name string
		args []string
		code int
		says string // on standard error
	}{
		{"help is fine", []string{"--help"}, exitFine, ""},
		{"no command shows the help", nil, exitFine, ""},
		{"version", []string{"version"}, exitFine, ""},
		{"an unknown command", []string{"chek", "shop.yaml"}, exitUse, `unknown command "chek"`},
		{"an unknown flag", []string{"check", "--fast", "shop.yaml"}, exitUse, "unknown flag: --fast"},
		{"too few arguments", []string{"check"}, exitUse, "accepts 1 arg(s), received 0"},
		{"too many arguments", []string{"replay", "a", "b", "c"}, exitUse, "accepts 2 arg(s), received 3"},
		{"a flag that is no number", []string{"airflow", "shop.yaml", "--speed", "fast"}, exitUse, "invalid argument"},
		{"a file that is not there", []string{"check", missing}, exitFailed, "no such file"},
		{"a file with mistakes", []string{"check", wrong}, exitNotFine, ""},
		{"a file with mistakes, for another command", []string{"airflow", wrong}, exitNotFine, "collectors"},
		{"a store that is not there", []string{"export", "--data", missing}, exitFailed, "no store"},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			got := call(t, r.args...)
			assert.Equal(t, r.code, got.code, "exit code; standard error: %s", got.errOut)
			assert.Contains(t, got.errOut, r.says)
		})
	}
}

func TestHelpOfEveryCommand(t *testing.T) {
	var texts strings.Builder
	for _, name := range []string{"", "demo", "run", "check", "airflow", "balance", "compare", "draw", "improve", "worth", "replay", "export", "import", "backup", "restore", "verify", "trial", "version"} {
		got := call(t, strings.Fields(name+" --help")...)
		require.Equal(t, exitFine, got.code)
		require.Empty(t, got.errOut)
		texts.WriteString("$ ductward " + strings.TrimSpace(name+" --help") + "\n" + got.out + "\n")
	}
	golden(t, "help.txt", texts.String())
}

func TestHelpHasAnExample(t *testing.T) {
	for _, c := range newRoot().Commands() {
		if c.Name() != "version" {
			assert.Contains(t, c.Example, "ductward "+c.Name(), "%s has no example", c.Name())
		}
	}
}

func TestCompletion(t *testing.T) {
	for _, shell := range []string{"bash", "zsh", "fish", "powershell"} {
		got := call(t, "completion", shell)
		require.Equal(t, exitFine, got.code)
		assert.Contains(t, got.out, "ductward")
	}
}

// TestNoBarInAPipe holds that what is not a terminal gets no progress bar, so that logs and files stay clean.
func TestNoBarInAPipe(t *testing.T) {
	read, written, err := os.Pipe()
	require.NoError(t, err)
	bar := newProgress(written, "reading", 100)
	bar.set(50)
	bar.finish()
	require.NoError(t, written.Close())
	text, err := io.ReadAll(read)
	require.NoError(t, err)
	assert.Empty(t, text)
	assert.False(t, isTerminal(&bytes.Buffer{}))
}
