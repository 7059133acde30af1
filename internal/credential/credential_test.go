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

func TestSecretsComeFromTightFilesAndTheEnvironment(t *testing.T) {
	file := filepath.Join(t.TempDir(), "secret")
	require.NoError(t, os.WriteFile(file, []byte("walnut 9\n"), 0o600))
	got, err := Secret("the key", shop.Secret{File: file})
	require.NoError(t, err)
	assert.Equal(t, "walnut 9", got)
	for mode, ok := range map[os.FileMode]bool{0o400: true, 0o640: true, 0o644: false, 0o660: false, 0o604: false} {
		require.NoError(t, os.Chmod(file, mode))
		_, err := Secret("the key", shop.Secret{File: file})
		assert.Equal(t, ok, err == nil, "%04o", mode)
		if err != nil {
			assert.ErrorContains(t, err, "chmod 600")
			assert.NotContains(t, err.Error(), "walnut")
		}
	}
	t.Setenv("DUCTWARD_TEST_SECRET", "oak")
	got, err = Secret("the key", shop.Secret{Env: "DUCTWARD_TEST_SECRET"})
	require.NoError(t, err)
	assert.Equal(t, "oak", got)
	_, err = Secret("the key", shop.Secret{Env: "DUCTWARD_TEST_NONE"})
	assert.ErrorContains(t, err, "DUCTWARD_TEST_NONE")
	got, err = Secret("the key", shop.Secret{})
	require.NoError(t, err)
	assert.Empty(t, got)
}
