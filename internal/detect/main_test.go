package detect

import (
	"os"
	"testing"

	"ductward/internal/fixedseed"
)

func TestMain(m *testing.M) {
	fixedseed.Set("418")
	os.Exit(m.Run())
}
