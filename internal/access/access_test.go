package access

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const words = "walnut and beech"

// TestHashIsThatOfTheSpecification: the hash was made by the reference implementation in C (argon2 of
// 2017-12-27, as Debian 12 packs it: "argon2 0123456789abcdef -id -t 2 -k 19456 -p 1 -l 32 -e").
func TestHashIsThatOfTheSpecification(t *testing.T) {
	const reference = Hash("$argon2id$v=19$m=19456,t=2,p=1$MDEyMzQ1Njc4OWFiY2RlZg$mib6viLPSfk9UkaAKY2DgjvlDSekiopbOQdOfSEftdU")
	assert.True(t, reference.Is(words))
	assert.False(t, reference.Is("walnut and beeches"))
}

func TestHashesDifferAndKnowTheirPassword(t *testing.T) {
	a, b := NewHash(words), NewHash(words)
	assert.NotEqual(t, a, b, "each has its own salt")
	assert.True(t, strings.HasPrefix(string(a), "$argon2id$v=19$m=19456,t=2,p=1$"), a)
	assert.True(t, a.Is(words))
	assert.NotEqual(t, a.Fingerprint(), b.Fingerprint())
	assert.False(t, Hash("").Is(""), "no password is nobody's")
}

func TestCostsThatNoBoardBearsAreRefused(t *testing.T) {
	rest := "$MDEyMzQ1Njc4OWFiY2RlZg$MDEyMzQ1Njc4OWFiY2RlZg"
	_, err := parseHash(Hash("$argon2id$v=19$m=19456,t=2,p=1" + rest))
	require.NoError(t, err)
	for _, bad := range []string{"$argon2id$v=19$m=4000000,t=2,p=1" + rest, "$argon2id$v=19$m=19456,t=0,p=1" + rest, "$argon2id$v=19$m=19456,t=2000,p=1" + rest,
		"$argon2id$v=16$m=19456,t=2,p=1" + rest, "$argon2i$v=19$m=19456,t=2,p=1" + rest, "$argon2id$v=19$m=19456,t=2,p=1$MDEyMzQ1Njc4OWFiY2RlZg$", "$argon2id$v=19$m=19456$a$b", words, ""} {
		_, err := parseHash(Hash(bad))
		require.ErrorContains(t, err, "set the password anew", bad)
		assert.NotContains(t, err.Error(), words)
		assert.False(t, Hash(bad).Is(words), bad)
	}
}

func TestThePasswordIsKeptTight(t *testing.T) {
	dir := Folder(t.TempDir())
	none, err := dir.Password()
	require.NoError(t, err)
	assert.Empty(t, none)
	_, err = dir.SetPassword("oak", nil)
	require.ErrorContains(t, err, "10 letters")

	var given string
	file, err := dir.SetPassword(words, func(file string) { given = file })
	require.NoError(t, err)
	assert.Equal(t, filepath.Dir(file), filepath.Dir(given), "the file is given away before it takes its place")
	info, err := os.Stat(file)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.NotContains(t, string(text), "walnut")
	h, err := dir.Password()
	require.NoError(t, err)
	assert.True(t, h.Is(words))
	left, err := os.ReadDir(string(dir))
	require.NoError(t, err)
	assert.Len(t, left, 1, "nothing else is left behind")

	require.NoError(t, os.Chmod(file, 0o640))
	_, err = dir.Password()
	assert.ErrorContains(t, err, "chmod 600")
	require.NoError(t, os.Chmod(file, 0o600))
	require.NoError(t, os.WriteFile(file, []byte(words), 0o600))
	_, err = dir.Password()
	require.ErrorContains(t, err, "no argon2id hash")
	assert.NotContains(t, err.Error(), "walnut")
}

func TestDevicesAreTrustedUntilTheyAreNot(t *testing.T) {
	dir, by := Folder(t.TempDir()), Hash("one") // a device asks only whether the hash is still the same
	at := time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)
	known, err := dir.Devices(by)
	require.NoError(t, err)
	assert.Empty(t, known)
	wall, phone := NewToken(), NewToken()
	require.NoError(t, dir.Trust(wall, "screen at the saw", by, at))
	require.NoError(t, dir.Trust(phone, "Ann's phone", by, at.Add(time.Hour)))
	assert.True(t, dir.Trusted(wall, by))
	for _, token := range []string{"", "../ductward.password", TokenID(wall), NewToken()} {
		assert.False(t, dir.Trusted(token, by), token)
	}
	assert.False(t, dir.Trusted(wall, "two"), "a new password ends it")
	assert.False(t, dir.Trusted(wall, ""))

	known, err = dir.Devices(by)
	require.NoError(t, err)
	require.Len(t, known, 2)
	assert.Equal(t, Device{ID: TokenID(wall), Name: "screen at the saw", Since: at, By: by.Fingerprint()}, known[0])
	text, err := os.ReadFile(filepath.Join(string(dir), devicesFolder, known[0].ID))
	require.NoError(t, err)
	assert.NotContains(t, string(text), wall, "the token itself is nowhere")

	gone, err := dir.Revoke(known[0].ID[:8], by)
	require.NoError(t, err)
	assert.Equal(t, "screen at the saw", gone.Name)
	assert.False(t, dir.Trusted(wall, by))
	assert.True(t, dir.Trusted(phone, by))
	for _, id := range []string{"", known[0].ID, "../ductward.password"} {
		_, err = dir.Revoke(id, by)
		require.ErrorIs(t, err, ErrNoDevice, id)
	}
}

func TestDevicesAreNotWithoutEnd(t *testing.T) {
	dir := Folder(t.TempDir())
	for range mostDevices {
		require.NoError(t, dir.Trust(NewToken(), "phone", "one", time.Time{}))
	}
	assert.ErrorContains(t, dir.Trust(NewToken(), "phone", "one", time.Time{}), "take one away first")
	known, err := dir.Devices("one")
	require.NoError(t, err)
	_, err = dir.Revoke("", "one")
	require.Error(t, err)
	assert.Len(t, known, mostDevices)
}
