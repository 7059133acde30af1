package access

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"runtime/debug"
	"strings"

	"golang.org/x/crypto/argon2"
)

// The cost of a hash: argon2id with 19 MiB, two passes, one lane, the second of the settings of equal strength in OWASP's
// "Password Storage Cheat Sheet". The first, with 46 MiB, is more than a small board has to spare beside the watch.
const (
	memory = 19 * 1024 // KiB
	passes = 2
	lanes  = 1

	saltLength = 16 // bytes, as RFC 9106, section 3.1, recommends
	hashLength = 32 // bytes
)

// Hash is a password's hash as text: $argon2id$v=19$m=…,t=…,p=…$salt$hash, each in unpadded base64, as the PHC string format
// writes it. "" is no password's.
type Hash string

// hasher is the hash of one password with its cost.
type hasher struct {
	version, memory, passes uint32
	lanes                   uint8
	salt, sum               []byte
}

// NewHash hashes a password with a fresh salt.
func NewHash(password string) Hash {
	h := hasher{version: argon2.Version, memory: memory, passes: passes, lanes: lanes, salt: make([]byte, saltLength)}
	_, _ = rand.Read(h.salt) // never fails
	h.sum = h.of(password, hashLength)
	b := base64.RawStdEncoding
	return Hash(fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", h.version, h.memory, h.passes, h.lanes, b.EncodeToString(h.salt), b.EncodeToString(h.sum)))
}

// Is tells whether a password has this hash. It takes 19 MiB for a moment and gives them back to the system; the caller
// sees to it that one is reckoned at a time.
func (h Hash) Is(password string) bool {
	parsed, err := parseHash(h)
	return err == nil && subtle.ConstantTimeCompare(parsed.of(password, uint32(len(parsed.sum))), parsed.sum) == 1
}

// of reckons the hash of a password. What argon2 leaves behind is as much as half of all that the watch holds, so it is
// not left to the next collection.
func (h hasher) of(password string, length uint32) []byte {
	defer debug.FreeOSMemory()
	return argon2.IDKey([]byte(password), h.salt, h.passes, h.memory, h.lanes, length)
}

// parseHash reads a hash. One whose cost is none that a board could bear is refused: who can write the file must not be
// able to fill the memory by it either.
func parseHash(text Hash) (h hasher, err error) {
	parts := strings.Split(string(text), "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" {
		return h, fmt.Errorf("this is no argon2id hash: set the password anew")
	}
	if _, err = fmt.Sscanf(parts[2]+" "+parts[3], "v=%d m=%d,t=%d,p=%d", &h.version, &h.memory, &h.passes, &h.lanes); err == nil {
		if h.salt, err = base64.RawStdEncoding.DecodeString(parts[4]); err == nil {
			h.sum, err = base64.RawStdEncoding.DecodeString(parts[5])
		}
	}
	switch {
	case err != nil:
		return h, fmt.Errorf("this is no argon2id hash: %w: set the password anew", err)
	case h.version != argon2.Version || h.memory < 8 || h.memory > 2*memory || h.passes < 1 || h.passes > 10 || h.lanes != 1 || len(h.salt) < 8 || len(h.sum) < 16 || len(h.sum) > 64:
		return h, fmt.Errorf("this hash has a version, a cost or a length that is not made here: set the password anew")
	}
	return h, nil
}
