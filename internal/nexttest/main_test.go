package nexttest

import (
	"os"
	"testing"

	"ductward/internal/fixedseed"
)

func TestMain(m *testing.M) {
	fixedseed.Set("20260902")
	os.Exit(m.Run())
}
