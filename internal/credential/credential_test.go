package credential

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
)

func TestBrokerReadsWhatTheShopFileNames(t *testing.T) {
	dir := t.TempDir()
	secret := filepath.Join(dir, "password")
	require.NoError(t, os.WriteFile(secret, []byte("walnut 9\r\n"), 0o600))
	password, conf, err := Broker(&shop.MQTT{PasswordFile: secret})
	require.NoError(t, err)
	assert.Equal(t, "walnut 9", password, "an editor's line end is no part of it")
	assert.Nil(t, conf)

	_, _, err = Broker(&shop.MQTT{PasswordFile: filepath.Join(dir, "none")})
	assert.ErrorContains(t, err, "password")
	_, _, err = Broker(&shop.MQTT{CAFile: secret})
	require.ErrorContains(t, err, "holds no PEM certificate")
	assert.NotContains(t, err.Error(), "walnut", "an error never tells a secret")
}

func TestClientNamesDifferAndAreShort(t *testing.T) {
	a, err := ClientName("ductward-out-")
	require.NoError(t, err)
	b, err := ClientName("ductward-out-")
	require.NoError(t, err)
	assert.NotEqual(t, a, b)
	assert.LessOrEqual(t, len(a), 23)
}
