package main

import (
	"bufio"
	"context"
	"io"
	"io/fs"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// secrets are one of each kind that a shop can have.
var secrets = []string{"hook-beech-walnut-oak", "broker-plane-iron", "mail-marking-gauge", "door-spokeshave-rasp"}

// shopWithSecrets writes a shop file whose secrets stand in files and in the environment, and none of whose targets takes
// anything.
func shopWithSecrets(t *testing.T) (shop, door string) {
	t.Helper()
	away, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	nobody := away.Addr().String()
	require.NoError(t, away.Close())
	refuses := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusUnauthorized) }))
	t.Cleanup(refuses.Close)
	dir := t.TempDir()
	in := func(name, text string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(text+"\n"), 0o600))
		return path
	}
	t.Setenv("DUCTWARD_TEST_MAIL", secrets[2])
	return write(t, "shop.yaml", tellShop+`outbound:
  webhooks: [{webhook: office, url: "`+refuses.URL+`", secret_file: `+in("hook", secrets[0])+`}]
  mqtt: {broker: "tcp://`+nobody+`", username: shop, password_file: `+in("broker", secrets[1])+`}
  mail: {server: "`+nobody+`", encryption: none, username: shop, password_env: DUCTWARD_TEST_MAIL, from: a@example.org, to: b@example.org}
`), in("door", secrets[3])
}

// What a shop keeps secret is nowhere but where its owner put it: not in the log, on a page, in an answer, in the store, in an
// export or in a backup, also where targets refuse it and a test letter is written.
func TestSecretsStayWhereTheyAre(t *testing.T) {
	shop, door := shopWithSecrets(t)
	data, exported := filepath.Join(t.TempDir(), "data"), filepath.Join(t.TempDir(), "all")
	ctx, interrupt := context.WithCancel(t.Context())
	defer interrupt()
	read, written := io.Pipe()
	code := make(chan int, 1)
	go func() {
		c := run(ctx, []string{"run", shop, "--data", data, "--listen", "127.0.0.1:0", "--password-file", door, "--verbose"}, strings.NewReader(""), io.Discard, written)
		written.Close()
		code <- c
	}()
	told := map[string]string{}
	var log strings.Builder
	address := regexp.MustCompile(`address=(http://\S+)`)
	client := &http.Client{}
	for lines := bufio.NewScanner(read); lines.Scan(); {
		log.WriteString(lines.Text() + "\n")
		if m := address.FindStringSubmatch(lines.Text()); m != nil {
			go func() { askEverything(t, client, m[1], told); interrupt() }()
		}
	}
	client.CloseIdleConnections()
	require.Equal(t, exitFine, <-code, log.String())
	told["log"] = log.String()
	assert.Contains(t, told["log"], "401", "a target was tried")
	assert.Contains(t, told["/alarms"], "webhook/office")

	for _, args := range [][]string{{"export", "--data", data, "--all", exported}, {"backup", "--data", data, filepath.Join(exported, "backup.db")}, {"verify", "--data", data}} {
		got := call(t, args...)
		require.Equal(t, exitFine, got.code, got.errOut)
		told[args[0]] = got.out + got.errOut
	}
	for _, dir := range []string{data, exported} {
		require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			text, err := os.ReadFile(path)
			told[path] = string(text)
			return err
		}))
	}
	assert.Contains(t, told[filepath.Join(exported, "letters.jsonl")], "webhook/office", "a letter was on its way")
	assert.Greater(t, len(told), 25)
	for where, text := range told {
		for _, secret := range secrets {
			if strings.Contains(text, secret) { // what holds it may be long
				t.Errorf("%s holds the secret %q", where, secret)
			}
		}
	}
}

// askEverything asks for a test letter and for every page and answer that a person or a program reads.
func askEverything(t *testing.T, client *http.Client, url string, told map[string]string) {
	letter, err := http.NewRequest(http.MethodPost, url+"/api/v1/test-letter", strings.NewReader(`{"by":"Ines"}`))
	if !assert.NoError(t, err) {
		return
	}
	letter.Header.Set("Content-Type", "application/json")
	letter.SetBasicAuth("Ines", secrets[3])
	for _, path := range []string{"/api/v1/test-letter", "/", "/ducts", "/filter", "/findings", "/alarms", "/logbook", "/history", "/sensors", "/setup", "/pack", "/leaks",
		"/metrics", "/api/v1/state", "/api/v1/alarms", "/api/v1/findings", "/api/v1/targets", "/api/v1/shop", "/api/v1/journal"} {
		r := letter
		if !strings.HasSuffix(path, "test-letter") {
			r, err = http.NewRequest(http.MethodGet, url+path, nil)
		}
		if !assert.NoError(t, err) {
			return
		}
		answer, err := client.Do(r)
		if !assert.NoError(t, err) {
			return
		}
		text, err := io.ReadAll(answer.Body)
		assert.NoError(t, err)
		assert.NoError(t, answer.Body.Close())
		assert.Less(t, answer.StatusCode, 300, "%s: %s", path, text)
		told[path] = string(text)
	}
}
