package main

import (
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

const tellShop = `shop: Elm Lane
collectors:
  - collector: main
    sensors:
      - {sensor: filter drop, measures: filter drop, from: {i2c: 1, chip: abp2, address: 0x28, span: 2.5 kPa}}
`

func TestTellSendsATestToEachTarget(t *testing.T) {
	heard := 0
	good := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { heard++ }))
	defer good.Close()
	bad := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusUnauthorized) }))
	defer bad.Close()
	t.Setenv("DUCTWARD_TEST_HOOK", "beech-and-walnut-and-oak")
	path := write(t, "shop.yaml", tellShop+`outbound:
  webhooks:
    - {webhook: office, url: "`+good.URL+`", secret_env: DUCTWARD_TEST_HOOK}
    - {webhook: yard, url: "`+bad.URL+`/se-cret", secret_env: DUCTWARD_TEST_HOOK}
`)
	got := call(t, "tell", path)
	assert.Equal(t, exitNotFine, got.code)
	assert.Contains(t, got.out, "taken: webhook/office at "+strings.TrimPrefix(good.URL, "http://"))
	assert.Contains(t, got.out, "not taken: webhook/yard")
	assert.Contains(t, got.out, "401")
	assert.NotContains(t, got.out+got.errOut, "se-cret")
	assert.NotContains(t, got.out+got.errOut, "beech")
	assert.Equal(t, 1, heard)

	got = call(t, "tell", path, "--only", "webhook/office")
	assert.Equal(t, exitFine, got.code)
	assert.Equal(t, exitUse, call(t, "tell", path, "--only", "mail").code)
}

func TestTellNeedsSomebodyToTell(t *testing.T) {
	got := call(t, "tell", write(t, "shop.yaml", tellShop))
	assert.Equal(t, exitUse, got.code)
	assert.Contains(t, got.errOut, "webhooks, mail or syslog")
	path := write(t, "mail.yaml", tellShop+"outbound:\n  mail: {server: mail.example.org, from: a@example.org, to: b@example.org, username: a, password_file: "+filepath.Join(t.TempDir(), "none")+"}\n")
	got = call(t, "tell", path)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.errOut, "password")
}
